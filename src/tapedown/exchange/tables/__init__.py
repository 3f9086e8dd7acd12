"""Somebody's table by a mapping: bytes to lines, lines to facts, every line accounted for."""
