"""Pages, one module a kind."""
