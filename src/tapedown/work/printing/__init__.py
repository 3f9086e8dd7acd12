"""Sheets and reports that people print."""
