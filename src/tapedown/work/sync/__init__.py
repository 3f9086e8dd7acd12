"""Entries from one record to another."""
