"""Faults of wires, receivers and the machine, as a table; run with the real daemon."""
