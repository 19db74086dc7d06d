"""Shapes of zones: ring, sector and polygon as signed distances in a plane of metres.

A shape answers one question of a point: how far inside is it? Positive inside, zero on the
edge, negative outside, metres. Limits are closed: on the edge counts as inside. A sector runs
clockwise from `left` to `right`; equal limits, or 0 to 360, mean the full circle.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

Point = tuple[float, float]


def ring_depth(distance_m: float, from_m: float, to_m: float) -> float:
    """How far inside a ring a point at that distance is."""
    return min(to_m - distance_m, distance_m - from_m) if from_m > 0 else to_m - distance_m


def in_sector(bearing_deg: float, left_deg: float, right_deg: float) -> bool:
    """Clockwise from left to right, both included."""
    width = (right_deg - left_deg) % 360.0
    if width == 0.0:
        return True
    # A hair of slack: a bearing computed as 9.9999999 deg lies on the limit of 10.
    return (bearing_deg - left_deg + 1e-9) % 360.0 <= width + 2e-9


def sector_depth(
    point: Point, left_deg: float, right_deg: float, from_m: float, to_m: float
) -> float:
    """Signed distance into a sector of a ring, from the point's east and north."""
    distance = math.hypot(*point)
    radial = ring_depth(distance, from_m, to_m)
    if (right_deg - left_deg) % 360.0 == 0.0:
        return radial
    bearing = math.degrees(math.atan2(point[0], point[1])) % 360.0
    edges = [
        _to_segment(point, _along(limit, from_m), _along(limit, to_m))
        for limit in (left_deg, right_deg)
    ]
    if in_sector(bearing, left_deg, right_deg):
        return min(radial, *edges) if radial >= 0 else radial
    # Outside by angle: the nearest point of the outline lies on one of the two edges.
    return -min(edges)


def polygon_depth(point: Point, corners: Sequence[Point]) -> float:
    """Signed distance into a polygon (corners in order, not repeated at the end)."""
    x, y = point
    inside = False
    nearest = math.inf
    a = corners[-1]
    for b in corners:
        if (a[1] > y) != (b[1] > y) and x < (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]) + a[0]:
            inside = not inside
        nearest = min(nearest, _to_segment(point, a, b))
        a = b
    return nearest if inside or nearest == 0.0 else -nearest


def crosses_itself(corners: Sequence[Point]) -> bool:
    """Whether two edges that are not neighbours cut each other."""
    n = len(corners)
    edges = [(corners[i], corners[(i + 1) % n]) for i in range(n)]
    for i in range(n):
        for j in range(i + 2, n):
            if i == 0 and j == n - 1:
                continue
            if _cut(*edges[i], *edges[j]):
                return True
    return False


def _along(bearing_deg: float, distance_m: float) -> Point:
    angle = math.radians(bearing_deg)
    return distance_m * math.sin(angle), distance_m * math.cos(angle)


def _to_segment(p: Point, a: Point, b: Point) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    length2 = dx * dx + dy * dy
    t = 0.0 if length2 == 0 else ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2
    t = min(1.0, max(0.0, t))
    return math.hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy)


def _cut(a: Point, b: Point, c: Point, d: Point) -> bool:
    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    return side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0
