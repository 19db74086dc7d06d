"""The bound on the number of targets: the least threatening go first.

IMO MSC.192(79) 5.25.2.2 wants a word before the bound is reached and no loss of what is there;
2,000 and the warning at 95 % are our decision.

Identities can be forged by the thousand, each right beside us and fast, so threat alone must
not decide: then forgeries would push out the ship that was there. Half of the room belongs to
those that have been followed longest and are still heard; nobody who comes later takes it. In
the other half an identity heard once and never again goes before all others.
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
SENIORS = 0.5  # share of the room that is kept for those followed longest
# By then a ship of class A under way has reported again (M.1371: 2 to 10 s). Two AIS channels
# carry 75 reports a second at most (2,250 slots a minute each, M.1371, from memory): 900 new
# identities in this time, which the other half can hold.
ONCE_S = 12.0


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
    """Those to let go, in order."""
    everybody = list(targets)
    excess = len(everybody) - capacity
    if excess <= 0:
        return []
    go = excess + math.floor(SPARE * capacity)
    followed = [t for t in everybody if t.updates > 1 and now_s - t.last_s <= t.reckon_s]
    followed.sort(key=lambda t: (t.first_s, t.key))
    seniors = {t.key for t in followed[: math.floor(SENIORS * capacity)]}
    ranked = sorted(
        (t for t in everybody if t.key not in seniors),
        key=lambda t: (not _once(t, now_s), -threat_s(t, own_place, now_s), t.key),
    )
    return ranked[:go]


def _once(target: Target, now_s: float) -> bool:
    """Heard once, and it should have been heard again."""
    if target.station in BEACONS:
        return False
    return target.updates <= 1 and now_s - target.last_s > ONCE_S
