"""Shipped sweeps."""
