"""What is around us now, and how far to trust it."""
