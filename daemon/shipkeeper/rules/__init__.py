"""The standing orders of each kind: picture in, verdicts out. RULES lists the kinds."""
