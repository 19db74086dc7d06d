"""Timers of the board: due times by (alert, what), fired in order with their due time."""

from __future__ import annotations


class Timers:
    """A small set of due times. Few are ever set, so the next is found by looking."""

    def __init__(self) -> None:
        self._due: dict[tuple[str, str], float] = {}
        self._next: tuple[float, tuple[str, str]] | None = None
        self._known = True

    def set(self, alert: str, what: str, due_s: float | None) -> None:
        """Set, move, or (None) take away."""
        key = (alert, what)
        if due_s is None:
            if self._due.pop(key, None) is not None:
                self._known = False
            return
        if self._due.get(key) != due_s:
            self._due[key] = due_s
            self._known = False

    def get(self, alert: str, what: str) -> float | None:
        return self._due.get((alert, what))

    def drop(self, alert: str) -> None:
        for key in [key for key in self._due if key[0] == alert]:
            del self._due[key]
            self._known = False

    def next(self) -> tuple[float, tuple[str, str]] | None:
        """(due, (alert, what)) of the first to fire; ties go by name, so runs repeat."""
        if not self._known:
            self._next = min(((due, key) for key, due in self._due.items()), default=None)
            self._known = True
        return self._next
