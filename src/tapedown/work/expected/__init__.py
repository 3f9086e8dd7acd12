"""What a well should show, and readings unlike it explained."""
