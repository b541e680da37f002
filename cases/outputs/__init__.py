"""What people and other programs get: quantities, grids, writers, figures."""
