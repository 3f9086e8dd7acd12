"""tapedown: from the tape at the well to a number others can rely on."""

__version__ = "0.1.0"
