"""The version of the program. It stands by itself: `import tapedown` leads to the notebook, and no room may."""

VERSION = "0.1.0"
