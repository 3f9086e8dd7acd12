"""Logger files, series and what is done to them, as written."""
