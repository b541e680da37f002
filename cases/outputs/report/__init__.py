"""One page about one case."""
