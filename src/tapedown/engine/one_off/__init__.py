"""Everything about one reading in one mapping: what the field sheet and the one-off file ask for."""
