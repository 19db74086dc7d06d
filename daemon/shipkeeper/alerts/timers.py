"""Timers of all alerts in one heap: what falls due next, in an order that never varies."""

from __future__ import annotations

import heapq

# At equal times in this order: what ends comes before what repeats.
KINDS = ("on", "good", "off", "silence", "shelf", "escalate", "people", "still", "taker",
         "group", "digest", "quiet", "handover", "service")  # fmt: skip
_RANK = {kind: rank for rank, kind in enumerate(KINDS)}


class Timers:
    """Each (kind, owner) has at most one due time; setting it again replaces it."""

    def __init__(self) -> None:
        self._due: dict[tuple[str, str], float] = {}
        self._heap: list[tuple[float, int, str]] = []

    def set(self, kind: str, owner: str, due_s: float | None) -> None:
        """Engine seconds; None stops it."""
        key = (kind, owner)
        if due_s is None:
            self._due.pop(key, None)
        elif self._due.get(key) != due_s:
            self._due[key] = due_s
            heapq.heappush(self._heap, (due_s, _RANK[kind], owner))

    def due(self, kind: str, owner: str) -> float | None:
        return self._due.get((kind, owner))

    def stop_all(self, owner: str) -> None:
        for kind in KINDS:
            self._due.pop((kind, owner), None)

    def next_due(self) -> float | None:
        """Earliest due time of all, engine seconds; None when nothing runs."""
        heap = self._heap
        while heap:
            due_s, rank, owner = heap[0]
            if self._due.get((KINDS[rank], owner)) == due_s:
                return due_s
            heapq.heappop(heap)
        return None

    def pop(self, until_s: float) -> tuple[float, str, str] | None:
        """The next (due time, kind, owner) not after `until_s`, taken off; None when none is."""
        due_s = self.next_due()
        if due_s is None or due_s > until_s:
            return None
        _, rank, owner = heapq.heappop(self._heap)
        del self._due[KINDS[rank], owner]
        return due_s, KINDS[rank], owner
