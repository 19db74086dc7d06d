"""The bound on the number of targets: the least threatening go first, never the latest come.

IMO MSC.192(79) 5.25.2.2 wants a word before the bound is reached and no loss of what is there;
2,000 and the warning at 95 % are our decision (alerts.md 5.2).
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from ..words.geo import LatLon, east_north
from .reporting import BEACONS
from .targets import Target

CAPACITY = 2000
CAUTION_AT = 0.95
CAUTION_OFF = 0.90
SPARE = 0.02  # so many more are shed at once, or every new ship would sort them all again
LEAST_CLOSING_MS = 2.0


def is_crowded(load: float, was: bool) -> bool:
    """Whether a caution is due; once it stands, until there is room again."""
    return load >= (CAUTION_OFF if was else CAUTION_AT)


def threat_s(target: Target, own_place: LatLon | None, now_s: float) -> float:
    """How long it would take to get here, s: the smaller, the greater the threat."""
    if target.station in BEACONS:
        return 0.0
    place = target.place_at(now_s)
    silent_s = now_s - target.last_s
    if place is None or own_place is None:
        return 1e9 + silent_s
    distance = math.hypot(*east_north(own_place, place))
    return distance / (LEAST_CLOSING_MS + (target.speed_ms or 0.0)) + silent_s


def shed(
    targets: Iterable[Target], capacity: int, own_place: LatLon | None, now_s: float
) -> list[Target]:
    """Those to let go, the least threatening first."""
    ranked = sorted(targets, key=lambda t: (-threat_s(t, own_place, now_s), t.key))
    excess = len(ranked) - capacity
    if excess <= 0:
        return []
    return ranked[: excess + math.floor(SPARE * capacity)]
