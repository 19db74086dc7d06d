"""Wires that an input and an outlet have in common: how each is made, and why it failed."""
