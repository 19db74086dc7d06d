"""The wires in: one file a kind, one registry line each."""
