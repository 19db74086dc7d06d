"""What an installation meets on other computers; scripts, run by hand, for they need a network."""
