"""Values to text and pictures that people look at. Knows engine and values only."""
