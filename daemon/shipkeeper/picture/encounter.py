"""Encounters: closest point of approach and bow crossing of two ships.

Plane vector arithmetic about the middle latitude of the pair (words/geo.east_north): with the
relative place r and relative velocity v, TCPA = -(r.v)/(v.v) and CPA = |r + v TCPA|. Without
relative velocity there is no TCPA and the distance stays. A past CPA (TCPA < 0) means that
the ships draw apart; what matters from then on is the present range.

Bow crossing: where the target's relative track cuts own course line (own heading line at
rest), ahead (+) or astern (-) of own antenna, and when.
"""

from __future__ import annotations

import math

import msgspec

from .outline import Outline
from .plane import Hull, Point, separated, to_segment

STILL_MS = 0.005  # less relative speed than this is none
OWN_WAY_MS = 0.26
TURN_AT_MOST_DEG = 90.0  # a turn is followed this far, then the ship is taken to steady up
TURN_LASTS_S = 180.0  # and no longer than this (both our decision)
CHORDS = 16
SURELY_M = 1e-6  # far above rounding

Velocity = tuple[float, float]  # m/s east, north


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
    axis_deg: float | None = None  # own course, or heading at rest

    @property
    def passes(self) -> str:
        """Where the target goes by: 'ahead', 'astern', 'port', 'starboard'; '' not told."""
        if self.axis_deg is None or self.tcpa_s is None or self.tcpa_s < 0:
            return ""
        if (
            self.bow_range_m is not None
            and self.bow_time_s is not None
            and self.bow_time_s >= 0
            and abs(self.bow_range_m) <= 3.0 * max(self.cpa_m, 50.0)
        ):
            return "ahead" if self.bow_range_m >= 0 else "astern"
        side = (self.cpa_bearing_deg - self.axis_deg) % 360.0
        return "starboard" if side < 180.0 else "port"


def approach(east_m: float, north_m: float, ve: float, vn: float) -> tuple[float, float | None]:
    """(CPA m, TCPA s) of a relative place and velocity; TCPA may be negative, None when still."""
    speed2 = ve * ve + vn * vn
    if speed2 < STILL_MS * STILL_MS:
        return math.hypot(east_m, north_m), None
    tcpa = -(east_m * ve + north_m * vn) / speed2
    return math.hypot(east_m + ve * tcpa, north_m + vn * tcpa), tcpa


def encounter(
    east_m: float,
    north_m: float,
    own: Velocity,
    target: Velocity,
    heading_deg: float | None = None,
) -> Encounter:
    """From the target's relative place and both velocities; heading serves at rest."""
    ve, vn = target[0] - own[0], target[1] - own[1]
    distance, bearing = math.hypot(east_m, north_m), _bearing(east_m, north_m)
    axis = _bearing(*own) if math.hypot(*own) >= OWN_WAY_MS else heading_deg
    bow = (None, None) if axis is None else bow_crossing(east_m, north_m, ve, vn, axis)
    cpa, tcpa = approach(east_m, north_m, ve, vn)
    cpa_bearing = bearing
    if tcpa is None or tcpa < 0:
        cpa = distance
    else:
        cpa_bearing = _bearing(east_m + ve * tcpa, north_m + vn * tcpa)
    speed = math.hypot(ve, vn)
    closing = tcpa is not None and tcpa > 0
    return Encounter(distance, bearing, cpa, tcpa, cpa_bearing, speed, closing, *bow, axis)


def bow_crossing(
    east_m: float, north_m: float, ve: float, vn: float, axis_deg: float
) -> tuple[float | None, float | None]:
    """(range ahead m, time s) at which the relative track cuts the line through own antenna
    along `axis_deg`; negative: astern, or already past. None when it runs alongside it."""
    angle = math.radians(axis_deg)
    s, c = math.sin(angle), math.cos(angle)
    across_v = ve * c - vn * s
    if abs(across_v) < STILL_MS:
        return None, None
    time_s = -(east_m * c - north_m * s) / across_v
    return (east_m + ve * time_s) * s + (north_m + vn * time_s) * c, time_s


def hull_approach(
    own: Outline, target: Outline, east_m: float, north_m: float, ve: float, vn: float
) -> tuple[float, float]:
    """(least gap from now on m, when it is first reached s) of two hulls, the target's moving
    at (ve, vn) as seen from own ship, neither turning.

    Exact: every corner of one hull runs along a straight line past every edge of the other.
    """
    speed = math.hypot(ve, vn)
    radii = own.radius_m + target.radius_m
    _, tcpa = approach(east_m, north_m, ve, vn)
    there = target.moved(east_m, north_m)
    if tcpa is None:
        horizon_s = 0.0
    else:
        horizon_s = max(0.0, tcpa + (own.reach_m + target.reach_m) / speed + 1.0)
    if not separated(own.points, there):
        return 0.0, 0.0
    run = (ve * horizon_s, vn * horizon_s)
    touch = max(radii, 1e-6)
    best, share = math.inf, 0.0
    # Seen along the run a corner keeps its place across it: an edge that lies farther off across
    # than the least gap so far cannot be the nearest.
    length = math.hypot(*run)
    across = (run[1] / length, -run[0] / length) if length > 0.0 else (0.0, 0.0)
    for mover, other, way in (
        (there, own.points, run),
        (own.points, there, (-run[0], -run[1])),
    ):
        edges = _edges_across(other, across)
        for corner in mover:
            off = corner[0] * across[0] + corner[1] * across[1]
            for a, b, low, high in edges:
                if off - high > best + SURELY_M or low - off > best + SURELY_M:
                    continue
                gap, at = _run_past(corner, way, a, b, touch)
                if gap < best - 1e-9 or (gap <= best + 1e-9 and at < share):
                    best, share = gap, at
    return max(0.0, best - touch), share * horizon_s


def _edges_across(hull: Hull, across: Point) -> list[tuple[Point, Point, float, float]]:
    """Each edge with the least and most of its place along a unit vector."""
    offs = [x * across[0] + y * across[1] for x, y in hull]
    return [
        (hull[i - 1], hull[i], min(offs[i - 1], offs[i]), max(offs[i - 1], offs[i]))
        for i in range(len(hull))
    ]


def _run_past(p: Point, run: Point, a: Point, b: Point, touch_m: float) -> tuple[float, float]:
    """(least distance, share of the run at which it is first reached) of a point that moves
    from p by `run`, to the segment a-b. Nothing counts as nearer than `touch_m`."""
    (px, py), (rx, ry) = p, run
    shares = [0.0, 1.0]
    run2 = rx * rx + ry * ry
    if run2 > 0.0:
        for end in (a, b):
            share = ((end[0] - px) * rx + (end[1] - py) * ry) / run2
            if 0.0 < share < 1.0:
                shares.append(share)
        sx, sy = b[0] - a[0], b[1] - a[1]
        denominator = rx * sy - ry * sx
        if denominator != 0.0:
            share = ((a[0] - px) * sy - (a[1] - py) * sx) / denominator
            if 0.0 < share < 1.0:
                shares.append(share)
    least, first = min([(to_segment((px + rx * s, py + ry * s), a, b), s) for s in shares])
    if least > touch_m:
        return least, first
    return touch_m, _first_within(p, run, a, b, touch_m, first)


def _first_within(p: Point, run: Point, a: Point, b: Point, touch_m: float, inside: float) -> float:
    """The first share of the run at which the point is within `touch_m` of a-b: the distance
    falls all the way to where it is least, so halving finds it."""
    low, high = 0.0, inside
    if _at(p, run, a, b, low) <= touch_m:
        return 0.0
    for _ in range(24):
        middle = (low + high) / 2
        if _at(p, run, a, b, middle) <= touch_m:
            high = middle
        else:
            low = middle
    return high


def _at(p: Point, run: Point, a: Point, b: Point, share: float) -> float:
    return to_segment((p[0] + run[0] * share, p[1] + run[1] * share), a, b)


def curved_approach(
    east_m: float,
    north_m: float,
    own: Velocity,
    speed_ms: float,
    course_deg: float,
    turn_deg_min: float,
) -> tuple[float, float]:
    """(CPA m, TCPA s) from now on when the target goes on turning as she does now.

    She is followed round until she has turned 90 degrees or for three minutes, then straight
    on. The arc is taken in chords; each, and the last straight, is an encounter of its own.
    """
    rate = math.radians(turn_deg_min) / 60.0
    lasts_s = min(TURN_LASTS_S, math.radians(TURN_AT_MOST_DEG) / abs(rate))
    radius, course = speed_ms / rate, math.radians(course_deg)
    best, when = math.hypot(east_m, north_m), 0.0
    x, y, t = east_m, north_m, 0.0
    for i in range(1, CHORDS + 1):
        end = lasts_s * i / CHORDS
        angle = course + rate * end
        ex = east_m + radius * (math.cos(course) - math.cos(angle)) - own[0] * end
        ey = north_m + radius * (math.sin(angle) - math.sin(course)) - own[1] * end
        span = end - t
        cpa, tcpa = approach(x, y, (ex - x) / span, (ey - y) / span)
        if tcpa is not None and 0.0 <= tcpa <= span and cpa < best:
            best, when = cpa, t + tcpa
        x, y, t = ex, ey, end
        here = math.hypot(x, y)
        if here < best:
            best, when = here, t
    angle = course + rate * lasts_s
    ve, vn = speed_ms * math.sin(angle) - own[0], speed_ms * math.cos(angle) - own[1]
    cpa, tcpa = approach(x, y, ve, vn)
    if tcpa is not None and tcpa > 0.0 and cpa < best:
        best, when = cpa, t + tcpa
    return best, when


def _bearing(east: float, north: float) -> float:
    return math.degrees(math.atan2(east, north)) % 360.0
