"""A card made from measurements of one's own polymer: reading, fitting, what is missing, the card."""
