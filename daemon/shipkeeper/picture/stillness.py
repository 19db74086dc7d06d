"""Does she lie as at anchor, though no watch is set? For a reminder, no more.

Still: ten minute-means of position within a small circle, with nothing made good. As at anchor:
she swings or sails about on something, more than a receiver wanders in a berth. In a dead calm
the two look alike, and then nothing is said. Figures are ours, without a source.
"""

from __future__ import annotations

import math
from collections import deque

import msgspec

from ..words.geo import LatLon, east_north

MINUTES = 10
WITHIN_M = 120.0  # of each other: the swing of a small boat
MADE_GOOD_MS = 0.15  # over the whole time; more is a drift
SAILS_ABOUT_M = 6.0  # minute-means of a receiver in a berth stay nearer together
SWINGS_DEG = 20.0


class _Minute(msgspec.Struct):
    begun_s: float
    lat: float = 0.0
    lon: float = 0.0
    fixes: int = 0
    ahead: float = 0.0
    aside: float = 0.0

    @property
    def place(self) -> LatLon:
        return LatLon(self.lat / self.fixes, self.lon / self.fixes)

    @property
    def heading_deg(self) -> float | None:
        if not (self.ahead or self.aside):
            return None
        return math.degrees(math.atan2(self.aside, self.ahead))


class Stillness:
    """Fed once a second while no watch is set."""

    def __init__(self) -> None:
        self._minutes: deque[_Minute] = deque(maxlen=MINUTES + 1)

    def start(self) -> None:
        self._minutes.clear()

    def take(self, place: LatLon | None, heading_deg: float | None, now_s: float) -> None:
        """Without a place nothing is learned; what was is kept, until it is too old."""
        if place is None:
            return
        if not self._minutes or now_s - self._minutes[-1].begun_s >= 60.0:
            self._minutes.append(_Minute(now_s))
        minute = self._minutes[-1]
        minute.lat += place.lat
        minute.lon += place.lon
        minute.fixes += 1
        if heading_deg is not None:
            minute.ahead += math.cos(math.radians(heading_deg))
            minute.aside += math.sin(math.radians(heading_deg))

    def as_at_anchor(self, now_s: float) -> bool | None:
        """Ten whole minutes without a break, still, and on something that she swings about.
        None: there are no ten minutes yet, or not any more."""
        whole = [m for m in self._minutes if now_s - m.begun_s >= 60.0]
        if len(whole) < MINUTES or now_s - whole[0].begun_s > (MINUTES + 2) * 60.0:
            return None
        origin = whole[0].place
        spots = [east_north(origin, minute.place) for minute in whole]
        across_m = max(math.dist(a, b) for a in spots for b in spots)
        made_good_ms = math.dist(spots[0], spots[-1]) / (whole[-1].begun_s - whole[0].begun_s)
        if across_m > WITHIN_M or made_good_ms > MADE_GOOD_MS:
            return False
        return across_m >= SAILS_ABOUT_M or self._swing_deg(whole) >= SWINGS_DEG

    @staticmethod
    def _swing_deg(whole: list[_Minute]) -> float:
        headings = [h for minute in whole if (h := minute.heading_deg) is not None]
        return max(
            (abs((a - b + 180.0) % 360.0 - 180.0) for a in headings for b in headings), default=0.0
        )
