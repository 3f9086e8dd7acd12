"""Who looked at what, what is worth a look, what somebody stands for."""
