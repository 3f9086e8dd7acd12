"""Formats a delivery is written in, a module a format, and the registry that names them."""
