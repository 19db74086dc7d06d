"""Whether a link stands, told with patience: a broker that restarts is no fault yet."""

from __future__ import annotations

import threading
import time

PATIENCE_S = 10.0


class Link:
    """Set from the thread that holds the link, asked from another (`Linked` of words.wires)."""

    def __init__(self, what: str, patience_s: float = PATIENCE_S) -> None:
        self._lock = threading.Lock()
        self._what, self._patience_s = what, patience_s
        self._up, self._why = False, "does not answer"
        self._since_s = time.monotonic()

    def set(self, up: bool, why: str = "") -> None:
        with self._lock:
            if up != self._up:
                self._since_s = time.monotonic()
            self._up, self._why = up, why or self._why

    def stands(self) -> tuple[bool, str] | None:
        """Up at once; down only when it has been so for a while; else not decided."""
        with self._lock:
            if self._up:
                return True, f"{self._what} is reached"
            if time.monotonic() - self._since_s < self._patience_s:
                return None
            return False, f"{self._what}: {self._why}"
