"""Many points of one case."""
