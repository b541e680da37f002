"""From the parts of a hot end to a tagged quadrilateral mesh of its section."""
