"""How far a forecast may be out: a CPA is never finer than its data.

One-sigma figures. AIS: the accuracy flag means better than 10 m (M.1371, from memory); speed
comes in tenths of a knot and course in tenths of a degree, but a small ship's GNSS gives them
to some two tenths and two degrees (common practice, no source). Radar: half of what
MSC.192(79) 5.25.4 allows at 95 % (range 50 m or 1 %, bearing 2 deg; after three minutes
0.8 kn and 3 deg).
"""

from __future__ import annotations

import math

from ..words.units import MS_PER_KN
from .targets import Target

AIS_SPEED_MS = 0.1
AIS_COURSE = math.radians(1.5)
RADAR_SPEED_MS = 0.4 * MS_PER_KN
RADAR_COURSE = math.radians(1.5)
STEADY_AFTER_S = 180.0


def place_sigma_m(target: Target, range_m: float) -> float:
    """Of the target's position as last told."""
    if target.kind == "radar":
        return math.hypot(max(25.0, 0.005 * range_m), math.radians(1.0) * range_m)
    if target.station == "long-range":
        return 90.0
    return 5.0 if target.accurate else 10.0


def velocity_sigma_ms(target: Target, now_s: float) -> float:
    """Of the target's velocity; a young radar track is worse."""
    speed = math.hypot(*target.motion())
    if target.kind != "radar" and target.reckoned is None:
        return math.hypot(AIS_SPEED_MS, AIS_COURSE * speed)
    known_s = max(20.0, now_s - target.first_s)
    young = min(4.0, max(1.0, STEADY_AFTER_S / known_s))
    return young * math.hypot(RADAR_SPEED_MS, RADAR_COURSE * speed)


def cpa_doubt_m(
    target: Target,
    range_m: float,
    tcpa_s: float | None,
    now_s: float,
    *,
    own_sigma_m: float,
    own_speed_ms: float,
    hull_doubt_m: float,
) -> float:
    """Two sigma of a CPA `tcpa_s` from now, and what was assumed of the hulls on top."""
    ahead_s = max(0.0, tcpa_s or 0.0)
    age_s = 0.0 if target.placed_s is None else max(0.0, now_s - target.placed_s)
    own = 0.0 if own_speed_ms == 0.0 else math.hypot(AIS_SPEED_MS, AIS_COURSE * own_speed_ms)
    sigma = math.hypot(
        place_sigma_m(target, range_m),
        own_sigma_m,
        velocity_sigma_ms(target, now_s) * (ahead_s + age_s),
        own * ahead_s,
    )
    return 2.0 * sigma + hull_doubt_m
