"""The state of a well over years: its bottom and its measuring point."""
