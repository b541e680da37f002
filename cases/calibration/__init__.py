"""Several numbers calibrated at once, on ceilings and on whole curves of weighed samples."""
