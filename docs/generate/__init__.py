"""Writes the pages and pictures that follow from the program."""
