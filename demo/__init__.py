"""A night of our own invention, and the show that plays it to the real daemon."""
