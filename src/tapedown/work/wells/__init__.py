"""A well as its entries tell it: its file, its history, how it stands."""
