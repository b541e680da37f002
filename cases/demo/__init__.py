"""Invented tables of weighed samples."""
