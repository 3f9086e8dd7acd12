"""Files of loggers by a profile, every line accounted for."""
