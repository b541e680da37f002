"""Several numbers fitted together, on ceilings and whole curves."""
