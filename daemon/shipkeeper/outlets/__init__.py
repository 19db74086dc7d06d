"""The ways out: one file a kind, one registry line each."""
