"""Logger series: taken in, corrected, looked at."""
