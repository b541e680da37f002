"""The variant that melts most within bounds."""
