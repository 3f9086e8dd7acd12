"""What is handed on: gathered, published, written."""
