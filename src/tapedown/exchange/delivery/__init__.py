"""What a delivery holds and its flat tables, the same for every format."""
