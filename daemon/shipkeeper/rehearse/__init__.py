"""The engine run over recordings, and what that shows."""
