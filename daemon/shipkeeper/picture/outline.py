"""Hulls: a ship as a rectangle about her antenna, or a circle when her heading is not known.

AIS positions are those of an antenna; what touches is a hull. Dimensions A, B, C, D of the
AIS (bow, stern, port, starboard of the antenna) and the heading give the rectangle; course
serves for heading when making way. Without heading, a circle of the largest arm. Unknown sizes
take a class default, and what was assumed is said.
"""

from __future__ import annotations

import math

import msgspec

from ..words.orders import Vessel
from .targets import MAKING_WAY_MS, Target

Point = tuple[float, float]

# Length and beam taken when a station has told no size (our decision; common practice).
ASSUMED = {"A": (120.0, 20.0), "B": (14.0, 4.5), "long-range": (150.0, 25.0), "": (30.0, 8.0)}
POINT_LIKE = frozenset({"aid", "base", "sart", "mob", "epirb", "sar"})


class Outline(msgspec.Struct, frozen=True, gc=False):
    """Either corners (a convex hull, east/north of the antenna) or a radius."""

    corners: tuple[Point, ...] = ()
    radius_m: float = 0.0
    assumed: str = ""

    @property
    def reach_m(self) -> float:
        """The farthest point from the antenna."""
        if not self.corners:
            return self.radius_m
        return max(math.hypot(*corner) for corner in self.corners)


POINT = Outline()


def target_outline(target: Target) -> Outline:
    """The target's hull from what is known of it, and what had to be assumed."""
    if target.station in POINT_LIKE:
        return POINT
    a, b, c, d = target.to_bow_m, target.to_stern_m, target.to_port_m, target.to_starboard_m
    assumed = ""
    if a is None or b is None or (a == 0 and b == 0):
        length, beam = ASSUMED.get(target.station, ASSUMED[""])
        a, b, c, d = length / 2, length / 2, beam / 2, beam / 2
        assumed = "size assumed"
    if c is None or d is None:
        c = d = 0.0
    if a == 0 and c == 0:
        # Only length and beam are told, not where the antenna is (M.1371, from memory).
        return Outline(radius_m=math.hypot(b, d), assumed="antenna place not told")
    heading = target.heading_deg
    if heading is None:
        making_way = target.speed_ms is not None and target.speed_ms >= 4 * MAKING_WAY_MS
        if not making_way or target.course_deg is None:
            arm = math.hypot(max(a, b), max(c, d))
            return Outline(radius_m=arm, assumed=assumed or "heading not told")
        heading = target.course_deg
        assumed = assumed or "heading from course"
    return Outline(rectangle(a, b, c, d, heading), assumed=assumed)


def own_outline(vessel: Vessel, heading_deg: float | None) -> Outline:
    """Own hull about the GNSS antenna."""
    antenna = vessel.antenna
    a = antenna.from_bow_m if antenna is not None else vessel.length_m / 2
    port = antenna.from_port_m if antenna is not None else None
    c = port if port is not None else vessel.beam_m / 2
    b, d = vessel.length_m - a, vessel.beam_m - c
    if heading_deg is None:
        return Outline(radius_m=math.hypot(max(a, b), max(c, d)), assumed="own heading not known")
    return Outline(rectangle(a, b, c, d, heading_deg))


def rectangle(
    to_bow_m: float, to_stern_m: float, to_port_m: float, to_starboard_m: float, heading_deg: float
) -> tuple[Point, ...]:
    """Corners about the antenna, east and north."""
    angle = math.radians(heading_deg)
    fe, fn = math.sin(angle), math.cos(angle)
    se, sn = fn, -fe  # to starboard
    return tuple(
        (ahead * fe + across * se, ahead * fn + across * sn)
        for ahead, across in (
            (to_bow_m, -to_port_m),
            (to_bow_m, to_starboard_m),
            (-to_stern_m, to_starboard_m),
            (-to_stern_m, -to_port_m),
        )
    )


def gap(a: Outline, b: Outline, east_m: float, north_m: float) -> float:
    """Shortest distance (m) between two hulls, b's antenna at east, north of a's; 0 when they
    touch or overlap."""
    if not a.corners and not b.corners:
        return max(0.0, math.hypot(east_m, north_m) - a.radius_m - b.radius_m)
    moved = tuple((x + east_m, y + north_m) for x, y in b.corners)
    if not a.corners:
        return max(0.0, _to_polygon((0.0, 0.0), moved) - a.radius_m)
    if not b.corners:
        return max(0.0, _to_polygon((east_m, north_m), a.corners) - b.radius_m)
    if _overlap(a.corners, moved):
        return 0.0
    return min(
        min(_to_edges(point, moved) for point in a.corners),
        min(_to_edges(point, a.corners) for point in moved),
    )


def _to_polygon(point: Point, corners: tuple[Point, ...]) -> float:
    return 0.0 if _inside(point, corners) else _to_edges(point, corners)


def _to_edges(point: Point, corners: tuple[Point, ...]) -> float:
    nearest = math.inf
    ax, ay = corners[-1]
    for bx, by in corners:
        dx, dy = bx - ax, by - ay
        length2 = dx * dx + dy * dy
        t = 0.0 if length2 == 0 else ((point[0] - ax) * dx + (point[1] - ay) * dy) / length2
        t = min(1.0, max(0.0, t))
        nearest = min(nearest, math.hypot(point[0] - ax - t * dx, point[1] - ay - t * dy))
        ax, ay = bx, by
    return nearest


def _inside(point: Point, corners: tuple[Point, ...]) -> bool:
    """Within a convex hull whose corners run clockwise."""
    ax, ay = corners[-1]
    for bx, by in corners:
        if (bx - ax) * (point[1] - ay) - (by - ay) * (point[0] - ax) > 1e-9:
            return False
        ax, ay = bx, by
    return True


def _overlap(a: tuple[Point, ...], b: tuple[Point, ...]) -> bool:
    """Separating-axis test of two convex hulls."""
    for corners in (a, b):
        ax, ay = corners[-1]
        for bx, by in corners:
            nx, ny = by - ay, ax - bx
            ax, ay = bx, by
            pa = [x * nx + y * ny for x, y in a]
            pb = [x * nx + y * ny for x, y in b]
            if max(pa) < min(pb) or max(pb) < min(pa):
                return False
    return True
