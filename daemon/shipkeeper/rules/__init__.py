"""The standing orders of each kind: picture in, verdicts out."""
