"""How far an answer may be off: its band, that of a difference, and what was never compared with a measurement."""
