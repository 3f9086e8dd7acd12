"""Uncertainty of a sum, coverage, the digits a value may be reported to, what a look at it is worth."""
