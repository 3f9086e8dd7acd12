"""Pages of rounds and of paired phones."""
