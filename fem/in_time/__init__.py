"""The heat balance in time."""
