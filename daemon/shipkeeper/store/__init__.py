"""What must outlive a power cut: alerts, journal, outbox, state."""

from .files import NewerStore, StoreFailed
from .journal import read_journal
from .store import Store

__all__ = ["NewerStore", "Store", "StoreFailed", "read_journal"]
