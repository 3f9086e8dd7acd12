"""Bytes and plain data to values and back, one module a format. No paths, no database."""
