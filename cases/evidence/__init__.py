"""What the validation page reports, solved and written."""
