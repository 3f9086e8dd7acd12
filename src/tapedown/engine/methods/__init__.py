"""The reductions, a module a method, and the registry that names them."""
