"""What is not round, solved in three dimensions by independent code: run by hand, since it takes a quarter of an hour."""
