"""What a well's next reading should show."""
