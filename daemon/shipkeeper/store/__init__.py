"""What must outlive a power cut: alerts, journal, outbox, state."""

from .store import Store, StoreFailed, read_journal

__all__ = ["Store", "StoreFailed", "read_journal"]
