"""Rounds: which wells are due, the way, what to load, what to beware of."""
