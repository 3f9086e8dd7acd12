"""A tape against its reference, and what a hanging tape needs to be corrected for."""
