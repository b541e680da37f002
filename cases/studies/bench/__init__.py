"""Weighings planned and reduced."""
