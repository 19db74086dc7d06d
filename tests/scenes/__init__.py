"""Whole scenes at sea: real orders, real sentences, the real engine; only the wires are missing."""
