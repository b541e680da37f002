"""Temperature fields and flow ceilings on a section mesh."""
