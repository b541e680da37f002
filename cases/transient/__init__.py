"""What a case does in time."""
