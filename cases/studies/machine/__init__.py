"""Programs for machines and their limits."""
