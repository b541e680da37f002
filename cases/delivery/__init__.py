"""Delivered over commanded flow as predicted."""
