"""The bound on the number of targets: the least threatening go first.

IMO MSC.192(79) 5.25.2.2 wants a word before the bound is reached and no loss of what is there;
2,000 and the warning at 95 % are our decision.

Identities can be forged by the thousand, each right beside us and fast, so threat alone must
not decide: then forgeries would push out the ship that was there, and the one that comes. What a
forger has little of is air: two AIS channels carry 75 reports a second at most (2,250 slots a
minute each, M.1371, from memory). So whoever has been heard four times, over two of its reporting
intervals at least, and is not overdue, is proved. Half of the room belongs to those of them that
have been followed longest. In the rest those not proved go first, the one longest silent before
all: room for 1,000 is 13 s of new identities at the very fastest, by when a ship of class A under
way has reported again (one of class B, each 30 s, may not have, while it lasts). Then those at
rest, then those farthest in time. A forger who keeps more proved identities under way than there
is room for is told from a crowded sea by nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

from ..words.geo import LatLon, east_north
from .reporting import BEACONS, KNOWN_AFTER, MISSED
from .targets import Target

CAPACITY = 2000
CAUTION_AT = 0.95
CAUTION_OFF = 0.90
SPARE = 0.02  # so many more are shed at once, or every new ship would sort them all again
LEAST_CLOSING_MS = 2.0
SENIORS = 0.5  # share of the room that is kept for those followed longest
PROVED_INTERVALS = 2.0
OVERDUE_INTERVALS = 3.0
AT_REST_MS = 0.25


def is_crowded(load: float, was: bool) -> bool:
    """Whether a caution is due; once it stands, until there is room again."""
    return load >= (CAUTION_OFF if was else CAUTION_AT)


def threat_s(target: Target, own_place: LatLon | None, now_s: float) -> float:
    """How long it would take to get here, s: the smaller, the greater the threat."""
    if target.station in BEACONS:
        return 0.0
    place = target.place_at(now_s)
    silent_s = now_s - target.heard_s
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
    proved = {t.key for t in everybody if _is_proved(t, now_s)}
    followed = sorted((t for t in everybody if t.key in proved), key=lambda t: (t.first_s, t.key))
    seniors = {t.key for t in followed[: math.floor(SENIORS * capacity)]}

    def rank(target: Target) -> tuple[int, float, str]:
        if target.station not in BEACONS:
            if target.key not in proved:
                return 0, target.heard_s, target.key
            if (target.speed_ms or 0.0) < AT_REST_MS:
                return 1, -threat_s(target, own_place, now_s), target.key
        return 2, -threat_s(target, own_place, now_s), target.key

    return sorted((t for t in everybody if t.key not in seniors), key=rank)[:go]


def _is_proved(target: Target, now_s: float) -> bool:
    """Heard again and again over a while, and lately."""
    interval_s = target.reckon_s / MISSED
    heard_for_s = target.heard_s - target.first_s
    return (
        target.updates >= KNOWN_AFTER
        and heard_for_s >= PROVED_INTERVALS * interval_s
        and now_s - target.heard_s <= OVERDUE_INTERVALS * interval_s
    )
