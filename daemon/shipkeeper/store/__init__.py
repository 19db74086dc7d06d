"""What must outlive a power cut: alerts, journal, outbox, state."""
