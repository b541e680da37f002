"""Properties over temperature, each number with its source."""
