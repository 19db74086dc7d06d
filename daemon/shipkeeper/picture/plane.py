"""Plane geometry in metres: points, edges, convex hulls and polygons. Plain arithmetic.

Points are (east, north). Convex hulls may be a single point. Nothing here knows of ships.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

Point = tuple[float, float]
Hull = tuple[Point, ...]


def to_segment(point: Point, a: Point, b: Point) -> float:
    """Distance from a point to the segment a-b."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    px, py = point[0] - a[0], point[1] - a[1]
    length2 = dx * dx + dy * dy
    if length2 == 0.0:
        return math.hypot(px, py)
    t = (px * dx + py * dy) / length2
    t = 0.0 if t < 0.0 else 1.0 if t > 1.0 else t
    return math.hypot(px - t * dx, py - t * dy)


def to_edges(point: Point, corners: Sequence[Point]) -> float:
    """Distance from a point to the nearest edge of a closed outline."""
    a = corners[-1]
    nearest = math.inf
    for b in corners:
        nearest = min(nearest, to_segment(point, a, b))
        a = b
    return nearest


def inside(point: Point, corners: Sequence[Point]) -> bool:
    """Whether a point lies in a polygon of any form (even-odd; the edge itself is undecided)."""
    x, y = point
    found = False
    ax, ay = corners[-1]
    for bx, by in corners:
        if (ay > y) != (by > y) and x < (bx - ax) * (y - ay) / (by - ay) + ax:
            found = not found
        ax, ay = bx, by
    return found


def crossing(a: Point, b: Point, c: Point, d: Point) -> float | None:
    """Where on a-b (0 to 1) it cuts c-d; None when it does not, or when they are parallel."""
    rx, ry = b[0] - a[0], b[1] - a[1]
    sx, sy = d[0] - c[0], d[1] - c[1]
    denominator = rx * sy - ry * sx
    if denominator == 0.0:
        return None
    qx, qy = c[0] - a[0], c[1] - a[1]
    t = (qx * sy - qy * sx) / denominator
    u = (qx * ry - qy * rx) / denominator
    return t if 0.0 <= t <= 1.0 and 0.0 <= u <= 1.0 else None


def separated(a: Hull, b: Hull) -> bool:
    """Separating-axis test of two convex hulls: True when they have no point in common."""
    return _axis_of(a, a, b) or _axis_of(b, a, b)


def _axis_of(edges: Hull, a: Hull, b: Hull) -> bool:
    if len(edges) < 2:
        return len(a) < 2 and len(b) < 2 and a != b
    px, py = edges[-1]
    for qx, qy in edges:
        nx, ny = qy - py, px - qx
        px, py = qx, qy
        on_a = [x * nx + y * ny for x, y in a]
        on_b = [x * nx + y * ny for x, y in b]
        if max(on_a) < min(on_b) or max(on_b) < min(on_a):
            return True
    return False


def hull_gap(a: Hull, b: Hull) -> float:
    """Shortest distance between two convex hulls; 0 when they touch or overlap."""
    if len(a) == 1 and len(b) == 1:
        return math.hypot(a[0][0] - b[0][0], a[0][1] - b[0][1])
    return 0.0 if not separated(a, b) else apart(a, b)


def apart(a: Hull, b: Hull) -> float:
    """`hull_gap` of two hulls that are known to be apart."""
    return _chains(a, b, closed=True)


def far_apart(a: Hull, b: Hull, east: float, north: float) -> float:
    """`hull_gap` of two hulls, b's middle at (east, north) of a's and farther off than twice
    what both of them reach. Then the nearest points lie on the edges at each one's corner
    nearest to the other: the line between them is within 30 degrees of the line of centres."""
    return _chains(_facing(a, east, north), _facing(b, -east, -north), closed=False)


def _facing(hull: Hull, ux: float, uy: float) -> Hull:
    """The corner farthest out in a direction, between its neighbours."""
    if len(hull) < 4:
        return hull
    reach = [x * ux + y * uy for x, y in hull]
    i = reach.index(max(reach))
    return hull[i - 1], hull[i], hull[i + 1 - len(hull)]


def _chains(a: Hull, b: Hull, closed: bool) -> float:
    """Least distance of the corners of each from the edges of the other. Written out flat: this
    is where the time of a crowded second goes."""
    least = math.inf
    for points, edges in ((a, b), (b, a)):
        qx, qy = edges[-1] if closed else edges[0]
        for rx, ry in edges:
            dx, dy = rx - qx, ry - qy
            length2 = dx * dx + dy * dy
            for x, y in points:
                px, py = x - qx, y - qy
                t = px * dx + py * dy
                if t > 0.0:
                    if t >= length2:
                        px, py = x - rx, y - ry
                    else:
                        t /= length2
                        px -= t * dx
                        py -= t * dy
                gap2 = px * px + py * py
                if gap2 < least:
                    least = gap2
            qx, qy = rx, ry
    return math.sqrt(least)


def hull_far(a: Hull, b: Hull) -> float:
    """The farthest that a point of b lies from hull a."""
    if len(a) == 1:
        x, y = a[0]
        return max(math.hypot(px - x, py - y) for px, py in b)
    return max(0.0 if inside(p, a) else to_edges(p, a) for p in b)


def clip(hull: Hull, nx: float, ny: float, slack: float = 0.0) -> Hull:
    """The part of a convex hull where x nx + y ny + slack >= 0 (Sutherland and Hodgman)."""
    if len(hull) == 1:
        return hull if hull[0][0] * nx + hull[0][1] * ny + slack >= 0.0 else ()
    kept: list[Point] = []
    ax, ay = hull[-1]
    side_a = ax * nx + ay * ny + slack
    for bx, by in hull:
        side_b = bx * nx + by * ny + slack
        if (side_a >= 0.0) != (side_b >= 0.0):
            t = side_a / (side_a - side_b)
            kept.append((ax + t * (bx - ax), ay + t * (by - ay)))
        if side_b >= 0.0:
            kept.append((bx, by))
        ax, ay, side_a = bx, by, side_b
    return tuple(kept)


def polygon_gap(hull: Hull, corners: Sequence[Point]) -> float:
    """Distance from a convex hull to a polygon of any form; 0 when they share a point."""
    if inside(hull[0], corners):
        return 0.0
    if len(hull) == 1:
        return to_edges(hull[0], corners)
    if inside(corners[0], hull):
        return 0.0
    nearest = math.inf
    a = corners[-1]
    for b in corners:
        p = hull[-1]
        for q in hull:
            if crossing(p, q, a, b) is not None:
                return 0.0
            nearest = min(nearest, to_segment(p, a, b), to_segment(a, p, q))
            p = q
        a = b
    return nearest


def regular(radius_m: float, sides: int = 32) -> Hull:
    """A circle as a hull; between its inner and outer circle, so the area is nearly right."""
    radius = radius_m / math.cos(math.pi / sides / 2)
    return tuple(
        (radius * math.sin(2 * math.pi * i / sides), radius * math.cos(2 * math.pi * i / sides))
        for i in range(sides)
    )
