"""The checks by name, what follows from what goes on at a well, what cannot be of a well."""
