"""Pages of what is handed on and taken in, and of what is printed."""
