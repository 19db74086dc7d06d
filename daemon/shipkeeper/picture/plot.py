"""The plot: where every target is at one moment, found quickly by place.

Made once a moment and shared by all rules: 2,000 targets times 50 zones are 100,000 questions
a second, and most of them are answered here without a look at the target.
"""

from __future__ import annotations

import math
from typing import Any

from ..words.geo import LatLon
from .cells import DRIFT_M, Cells
from .targets import Target

# A target with its place at the plot's moment, degrees.
Placed = tuple[Target, float, float]
# Of latitude, at the equator; one of longitude is no shorter than this by the cosine.
SHORTEST_DEGREE_M = 110_574.0


class Plot:
    """Targets with a position; each is reckoned to the moment when somebody asks."""

    __slots__ = ("_cells", "_rows", "at_s", "memo")

    def __init__(self, cells: Cells, now_s: float) -> None:
        self.at_s = now_s
        self.memo: dict[Any, Any] = {}  # what rules work out once for all of them
        self._cells = cells
        self._rows: dict[int, Placed] = {}  # by serial

    def near(self, place: LatLon, radius_m: float) -> list[Placed]:
        """All within the radius, and some in the corners of the square about it, in order of
        latitude."""
        lat, lon = place.lat, place.lon
        high = radius_m / SHORTEST_DEGREE_M * 1.01
        # Meridians draw together towards the pole: the wide side of the square counts.
        narrow = math.cos(math.radians(min(89.9, abs(lat) + high)))
        wide = high / narrow
        # Twice the drift, since farther out they draw together still more.
        drift = 2.0 * DRIFT_M / SHORTEST_DEGREE_M
        south, north = lat - high, lat + high
        known, reckon = self._rows, self._reckon
        found = []
        for target in self._cells.about(lat, lon, high + drift, wide + drift / narrow):
            row = known.get(target.serial) or reckon(target)
            if south <= row[1] <= north and abs((row[2] - lon + 180.0) % 360.0 - 180.0) <= wide:
                found.append(row)
        found.sort(key=_order)
        return found

    def _reckon(self, target: Target) -> Placed:
        lat, lon, placed_s = target.lat, target.lon, target.placed_s
        assert lat is not None and lon is not None and placed_s is not None  # it has a cell
        rates = target.pace or target.rates()
        run_s = self.at_s - placed_s
        if run_s > target.reckon_s:
            run_s = target.reckon_s
        row = (target, lat + rates[0] * run_s, lon + rates[1] * run_s)
        self._rows[target.serial] = row
        return row


def _order(row: Placed) -> tuple[float, int]:
    return row[1], row[0].serial
