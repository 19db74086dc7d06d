"""Which targets are about where: a grid of cells, so that who asks for those near a place need
not look at all of them.

A target stands in the cell of its last report, until its dead reckoning may have taken it
`DRIFT_M` from there; then it is put where it is by then. So nearly all of a thousand ships are
left alone in nearly every second, and who looks allows for the drift.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Iterator
from math import floor
from operator import attrgetter

from ..words.units import MAKING_WAY_MS
from .silence import kept_short
from .targets import Target

DRIFT_M = 500.0
A_DEGREE = 30  # cells: two miles of latitude each
_ROUND = 360 * A_DEGREE


class Cells:
    """Targets with a position, by cell; owned by the set of targets."""

    __slots__ = ("_cells", "_queue")

    def __init__(self) -> None:
        self._cells: dict[int, dict[int, Target]] = {}  # cell -> serial -> target
        self._queue: list[tuple[float, str]] = []  # when a target may have strayed, its key

    def __len__(self) -> int:
        """Places in the queue, with those of targets that were let go."""
        return len(self._queue)

    def put(self, target: Target) -> None:
        """After each report: it is about where it says."""
        if target.lat is not None and target.lon is not None and target.placed_s is not None:
            self._put(target, target.lat, target.lon, target.placed_s)

    def remove(self, target: Target) -> None:
        if target.cell is not None:
            held = self._cells[target.cell]
            del held[target.serial]
            if not held:
                del self._cells[target.cell]
            target.cell = None

    def move_on(self, by_key: dict[str, Target], now_s: float) -> None:
        """Put those that may have strayed where they are now."""
        queue = self._queue = kept_short(self._queue, by_key, attrgetter("stray_s"))
        while queue and queue[0][0] <= now_s:
            due_s, key = heapq.heappop(queue)
            target = by_key.get(key)
            if target is None or target.stray_s != due_s:
                continue
            target.stray_s = math.inf
            place = target.place_at(now_s)
            if place is not None and target.cell is not None:
                self._put(target, place.lat, place.lon, now_s)

    def about(self, lat: float, lon: float, high: float, wide: float) -> Iterator[Target]:
        """All that may be within so many degrees of latitude and longitude, and others."""
        first, last = floor((lat - high) * A_DEGREE), floor((lat + high) * A_DEGREE)
        west, east = floor((lon - wide) * A_DEGREE), floor((lon + wide) * A_DEGREE)
        cells = self._cells
        if (last - first + 1) * (east - west + 1) >= len(cells) or east - west >= _ROUND:
            for held in cells.values():
                yield from held.values()
            return
        for row in range(first * _ROUND, (last + 1) * _ROUND, _ROUND):
            for column in range(west, east + 1):
                found = cells.get(row + column % _ROUND)
                if found is not None:
                    yield from found.values()

    def _put(self, target: Target, lat: float, lon: float, at_s: float) -> None:
        cell = floor(lat * A_DEGREE) * _ROUND + floor(lon * A_DEGREE) % _ROUND
        if cell != target.cell:
            self.remove(target)
            target.cell = cell
            self._cells.setdefault(cell, {})[target.serial] = target
        speed_ms = target.speed_ms
        if speed_ms is None or speed_ms < MAKING_WAY_MS:
            return
        stray_s = at_s + DRIFT_M / speed_ms
        if stray_s < target.stray_s:
            target.stray_s = stray_s
            heapq.heappush(self._queue, (stray_s, target.key))
