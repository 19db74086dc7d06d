"""Hulls: a ship as the rectangle about her antenna, or a circle when her heading is unknown.

AIS positions are those of an antenna; what touches is a hull. Dimensions A, B, C, D of the
AIS (to bow, stern, port and starboard from the antenna) and the heading give the rectangle;
course serves for heading when making way. Without either, a circle of the largest arm. A size
that was never told is taken from the class, and whatever was assumed is said.
"""

from __future__ import annotations

import math

import msgspec

from ..words.orders import Vessel
from ..words.units import MAKING_WAY_MS
from .plane import Hull, far_apart, hull_gap, regular
from .targets import Target

# Length and beam of a station that told none. Medians of the ships that do tell in the New
# York harbour table of the tests (NOAA/USCG, 2020-06-30): class A 38 m, class B 20 m, taken
# upwards, since a hull thought too large only warns a little early. Radar: our decision.
CLASS_SIZE = {
    "A": (60.0, 12.0),
    "long-range": (100.0, 16.0),
    "B": (20.0, 6.0),
    "craft": (8.0, 3.0),
    "sar": (20.0, 20.0),
    "radar": (20.0, 6.0),
    "": (20.0, 6.0),
}
POINTS = frozenset({"aid", "base", "sart", "mob", "epirb"})
OWN_COURSE_MS = 0.51  # a knot: below it the own course tells no heading (common practice)


class Outline(msgspec.Struct, frozen=True, gc=False):
    """A convex hull in metres east and north of the antenna, grown all round by `radius_m`.

    A circle is the antenna alone with a radius. `reach_m`: the farthest point of it.
    `doubt_m`: how far the nearest hull may be from this one for what was assumed.
    """

    points: Hull = ((0.0, 0.0),)
    radius_m: float = 0.0
    reach_m: float = 0.0
    assumed: str = ""
    doubt_m: float = 0.0

    def moved(self, east_m: float, north_m: float) -> Hull:
        return tuple((x + east_m, y + north_m) for x, y in self.points)

    def hull(self) -> Hull:
        """As corners alone, a circle with 32 of them."""
        return self.points if self.radius_m == 0.0 else regular(self.radius_m)


POINT = Outline()


def box(a: float, b: float, c: float, d: float, heading_deg: float, assumed: str = "",
        doubt_m: float = 0.0) -> Outline:  # fmt: skip
    """The rectangle of A, B, C, D about the antenna, turned to a heading."""
    angle = math.radians(heading_deg)
    fe, fn = math.sin(angle), math.cos(angle)
    points = tuple(
        (ahead * fe + right * fn, ahead * fn - right * fe)
        for ahead, right in ((a, -c), (a, d), (-b, d), (-b, -c))
    )
    return Outline(points, 0.0, math.hypot(max(a, b), max(c, d)), assumed, doubt_m)


def circle(arm_m: float, assumed: str, doubt_m: float) -> Outline:
    return Outline(((0.0, 0.0),), arm_m, arm_m, assumed, doubt_m)


def target_outline(target: Target) -> Outline:
    """The target's hull; kept with the target until its next report."""
    outline = target.hull
    if not isinstance(outline, Outline):
        outline = target.hull = _reckon(target)
    return outline


def _reckon(target: Target) -> Outline:
    if target.station in POINTS:
        return POINT
    return _turned(target, *_size(target))


def _size(target: Target) -> tuple[tuple[float, float, float, float], str, float]:
    """(A, B, C, D), what was assumed for them, and how far that may put the hull out."""
    a, b, c, d = target.to_bow_m, target.to_stern_m, target.to_port_m, target.to_starboard_m
    if b and d and not a and not c:
        # B and D alone are length and beam: nobody knows where the antenna stands.
        return (b / 2, b / 2, d / 2, d / 2), "antenna assumed amidships", b / 2
    if a is None or b is None or a + b == 0.0:
        length, beam = CLASS_SIZE.get(target.station, CLASS_SIZE[""])
        return (length / 2, length / 2, beam / 2, beam / 2), "size assumed", length / 2
    if c is None or d is None or c + d == 0.0:
        half = (a + b) / 8
        return (a, b, half, half), "beam assumed", half
    return (a, b, c, d), "", 0.0


def _turned(
    target: Target, size: tuple[float, float, float, float], assumed: str, doubt: float
) -> Outline:
    heading = target.heading_deg
    if heading is None:
        under_way = target.speed_ms is not None and target.speed_ms >= MAKING_WAY_MS
        if not under_way or target.course_deg is None:
            note = "heading unknown"
            return circle(max(size), f"{assumed}, {note}" if assumed else note, doubt + max(size))
        heading = target.course_deg
        assumed = f"{assumed}, heading from course" if assumed else "heading from course"
        doubt += 0.2 * max(size)  # a ship crabs ten degrees in a stream (common practice)
    return box(*size, heading, assumed, doubt)


def own_outline(
    vessel: Vessel, heading_deg: float | None, course: tuple[float, float] | None = None
) -> Outline:
    """Own hull about the GNSS antenna. course: (speed m/s, deg), used when making way."""
    antenna = vessel.antenna
    a = antenna.from_bow_m if antenna is not None else vessel.length_m / 2
    port = antenna.from_port_m if antenna is not None else None
    c = port if port is not None else vessel.beam_m / 2
    b, d = max(0.0, vessel.length_m - a), max(0.0, vessel.beam_m - c)
    assumed = "" if antenna is not None else "own antenna assumed amidships"
    doubt = 0.0 if antenna is not None else vessel.length_m / 2
    if heading_deg is None and course is not None and course[0] >= OWN_COURSE_MS:
        heading_deg = course[1]
    if heading_deg is None:
        note = "own heading unknown"
        arm = max(a, b, c, d)
        return circle(arm, f"{assumed}, {note}" if assumed else note, doubt + arm)
    return box(a, b, c, d, heading_deg, assumed, doubt)


def gap(one: Outline, other: Outline, east_m: float, north_m: float) -> float:
    """Shortest distance (m) between two hulls, the other's antenna at (east, north) of the
    first's; 0 when they touch or overlap."""
    there = other.moved(east_m, north_m)
    if math.hypot(east_m, north_m) > 2.0 * (one.reach_m + other.reach_m):
        between = far_apart(one.points, there, east_m, north_m)
    else:
        between = hull_gap(one.points, there)
    return max(0.0, between - one.radius_m - other.radius_m)


def together(*said: str) -> str:
    """What was assumed of both ships, in one line."""
    return "; ".join(text for text in said if text)
