"""Variants side by side."""
