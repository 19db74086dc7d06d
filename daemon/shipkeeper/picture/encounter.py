"""Encounters: closest point of approach and bow crossing of two ships on steady courses.

Plane vector arithmetic about the middle latitude of the pair (words/geo.east_north): relative
place r and relative velocity v give TCPA = -(r.v)/(v.v) and CPA = |r + v TCPA|. With no relative
velocity there is no TCPA and the distance stays. A past CPA (TCPA < 0) means that the ships
draw apart; what matters from then on is the present range.

Bow crossing: where the target's relative track cuts own course line, ahead (+) or astern (-).
"""

from __future__ import annotations

import math

import msgspec

STILL_MS = 0.005  # less relative speed than this is none


class Encounter(msgspec.Struct, frozen=True, gc=False):
    """Two ships on steady courses, seen from own ship. Metres, seconds, degrees."""

    range_m: float
    bearing_deg: float
    cpa_m: float  # from now on: the present range when they draw apart
    tcpa_s: float | None  # None: no relative motion; negative: past
    cpa_bearing_deg: float
    relative_speed_ms: float
    closing: bool
    bow_range_m: float | None = None
    bow_time_s: float | None = None

    @property
    def passes(self) -> str:
        """Where the target goes by, from own course: 'ahead', 'astern', '' when not told."""
        if self.bow_range_m is None or self.bow_time_s is None or self.bow_time_s < 0:
            return ""
        return "ahead" if self.bow_range_m > 0 else "astern"


def encounter(
    east_m: float,
    north_m: float,
    own: tuple[float, float],
    target: tuple[float, float],
) -> Encounter:
    """From the target's relative place and both velocities (m/s east, north)."""
    ve, vn = target[0] - own[0], target[1] - own[1]
    distance = math.hypot(east_m, north_m)
    speed2 = ve * ve + vn * vn
    bearing = _bearing(east_m, north_m)
    if speed2 < STILL_MS * STILL_MS:
        return Encounter(distance, bearing, distance, None, bearing, 0.0, False)
    tcpa = -(east_m * ve + north_m * vn) / speed2
    if tcpa >= 0:
        ce, cn = east_m + ve * tcpa, north_m + vn * tcpa
        cpa, cpa_bearing = math.hypot(ce, cn), _bearing(ce, cn)
    else:
        cpa, cpa_bearing = distance, bearing
    bow_range, bow_time = _bow(east_m, north_m, own, ve, vn)
    return Encounter(
        distance,
        bearing,
        cpa,
        tcpa,
        cpa_bearing,
        math.sqrt(speed2),
        tcpa > 0,
        bow_range,
        bow_time,
    )


def _bow(
    east: float, north: float, own: tuple[float, float], ve: float, vn: float
) -> tuple[float | None, float | None]:
    own_speed = math.hypot(*own)
    if own_speed < 0.05:
        return None, None
    ahead_e, ahead_n = own[0] / own_speed, own[1] / own_speed
    # Across own course line: to starboard positive.
    across = east * ahead_n - north * ahead_e
    across_v = ve * ahead_n - vn * ahead_e
    if abs(across_v) < STILL_MS:
        return None, None
    time_s = -across / across_v
    along = (east + ve * time_s) * ahead_e + (north + vn * time_s) * ahead_n
    return along, time_s


def _bearing(east: float, north: float) -> float:
    return math.degrees(math.atan2(east, north)) % 360.0
