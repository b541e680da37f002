"""Search for a variant."""
