"""The plot: where every target is at one moment, found quickly by place.

Made once a moment and shared by all rules: 2,000 targets times 50 zones are 100,000 questions
a second, and most of them are answered here by two comparisons.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from operator import itemgetter
from typing import Any

from ..words.geo import LatLon, metres_per_degree
from .targets import STILL, Target

# A target with its place at the plot's moment, degrees.
Placed = tuple[Target, float, float]
_latitude = itemgetter(1)


class Plot:
    """Targets with a position, in order of latitude."""

    __slots__ = ("_lats", "_rows", "at_s", "memo")

    def __init__(self, targets: list[Target], now_s: float) -> None:
        """targets: put in the plot's order here, for the next plot: ships hardly change places,
        and what is nearly in order is quickly sorted."""
        self.at_s = now_s
        self.memo: dict[Any, Any] = {}  # what rules work out once for all of them
        rows: list[Placed] = []
        add = rows.append
        nowhere: list[Target] = []
        for target in targets:
            row = target.row
            if row is not None:
                add(row)
                continue
            lat, lon, placed_s = target.lat, target.lon, target.placed_s
            if lat is None or lon is None or placed_s is None:
                nowhere.append(target)
                continue
            rates = target.pace or target.rates()
            if rates is STILL:
                row = target.row = (target, lat, lon)  # kept until its next report
                add(row)
                continue
            run_s = now_s - placed_s
            if run_s > target.reckon_s:
                run_s = target.reckon_s
            add((target, lat + rates[0] * run_s, lon + rates[1] * run_s))
        rows.sort(key=_latitude)
        self._rows = rows
        self._lats = [row[1] for row in rows]
        targets[:] = [row[0] for row in rows]
        targets += nowhere

    def __len__(self) -> int:
        return len(self._rows)

    def near(self, place: LatLon, radius_m: float) -> list[Placed]:
        """All within the radius, and some in the corners of the square about it."""
        per_lon, per_lat = metres_per_degree(place.lat)
        high = radius_m / per_lat * 1.01
        first = bisect_left(self._lats, place.lat - high)
        last = bisect_right(self._lats, place.lat + high)
        rows = self._rows[first:last]
        # Meridians draw together towards the pole: the wide side of the square counts.
        per_lon, _ = metres_per_degree(min(89.9, abs(place.lat) + high))
        wide = radius_m / per_lon * 1.01
        if wide >= 180.0:
            return rows
        west, east = place.lon - wide, place.lon + wide
        if west >= -180.0 and east <= 180.0:
            return [row for row in rows if west <= row[2] <= east]
        centre = place.lon
        return [row for row in rows if abs((row[2] - centre + 180.0) % 360.0 - 180.0) <= wide]
