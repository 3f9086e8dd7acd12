"""Entries, heads of chains and proofs as text that travels."""
