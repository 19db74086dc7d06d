"""The night as one HTML file and one small picture, drawn from a rehearsal's log."""
