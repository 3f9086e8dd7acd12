"""Pure and columnar: series recorded by an instrument left in the well, from raw rows to what can be defended."""
