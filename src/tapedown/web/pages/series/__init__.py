"""Pages of logger series and their treatments."""
