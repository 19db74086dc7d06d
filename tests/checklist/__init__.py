"""The feature checklist: every feature that must be there has a test named after its number."""
