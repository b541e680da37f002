"""What is done with cases: one module or folder a verb, from cases to frozen numbers."""
