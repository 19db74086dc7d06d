"""Shapes of zones laid down at one moment: ring, sector, polygon and line.

An area answers how far outside it a hull lies: 0 when any part of the hull is inside. Limits
are closed: on the edge counts as inside, within `EDGE_M` for the sake of arithmetic. A sector
runs clockwise from its left to its right limit; equal limits, or 0 to 360, are the full
circle. The range of a ring or sector about own ship is taken between the hulls, its bearings
from own antenna.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol

from ..picture.frame import Frame
from ..picture.outline import POINT, Outline
from ..picture.plane import (
    Hull,
    Point,
    clip,
    crossing,
    hull_far,
    hull_gap,
    inside,
    polygon_gap,
    to_edges,
    to_segment,
)
from ..words.geo import LatLon, metres_per_degree, wrap_longitude

EDGE_M = 0.05
FAR_M = 400.0  # farther out than this no exact distance is needed
CURVED_M = 50.0  # from here on a geodesic's bearing differs from a plane's by what shows
LINE_GOES_ON_M = 50_000.0


class Area(Protocol):
    """A zone on the water. All of it lies within `reach_m` of `centre`."""

    centre: LatLon
    reach_m: float

    def has(self, lat: float, lon: float, hull: Outline) -> bool:
        """Whether any part of the hull is inside: `outside_m` is 0, but quicker to say."""
        ...

    def outside_m(self, lat: float, lon: float, hull: Outline) -> float:
        """How far outside a hull lies whose antenna is there; 0 when any of it is inside."""
        ...

    def depth_m(self, lat: float, lon: float) -> float:
        """How far inside a point is; negative outside."""
        ...


class Ring:
    """Between two ranges of a place, or of own hull."""

    __slots__ = ("_frame", "centre", "from_m", "own", "reach_m", "to_m")

    def __init__(self, centre: LatLon, own: Outline, from_m: float, to_m: float) -> None:
        self._frame = Frame(centre)
        self.centre, self.own, self.from_m, self.to_m = centre, own, from_m, to_m
        self.reach_m = to_m + own.reach_m

    def has(self, lat: float, lon: float, hull: Outline) -> bool:
        east, north = self._frame.at(lat, lon)
        distance = math.hypot(east, north)
        slack = self.own.reach_m + hull.reach_m
        if distance - slack > self.to_m + EDGE_M:
            return False
        if distance <= self.to_m and (self.from_m == 0.0 or distance >= self.from_m + slack):
            return True
        return self._of_piece(_moved(hull, east, north), hull.radius_m) == 0.0

    def outside_m(self, lat: float, lon: float, hull: Outline) -> float:
        east, north = self._frame.at(lat, lon)
        distance = math.hypot(east, north)
        slack = self.own.reach_m + hull.reach_m
        if distance <= self.to_m and (self.from_m == 0.0 or distance >= self.from_m + slack):
            return 0.0
        if distance - slack > self.to_m + FAR_M:
            return distance - slack - self.to_m
        return self._of_piece(_moved(hull, east, north), hull.radius_m)

    def _of_piece(self, piece: Hull, radius_m: float = 0.0) -> float:
        radii = radius_m + self.own.radius_m
        near = max(0.0, hull_gap(self.own.points, piece) - radii)
        if near > self.to_m + EDGE_M:
            return near - self.to_m
        if self.from_m == 0.0:
            return 0.0
        far = max(0.0, hull_far(self.own.points, piece) + radius_m - self.own.radius_m)
        return self.from_m - far if far < self.from_m - EDGE_M else 0.0

    def depth_m(self, lat: float, lon: float) -> float:
        east, north = self._frame.at(lat, lon)
        return self._depth(math.hypot(east, north))

    def _depth(self, distance: float) -> float:
        to_outer = self.to_m - distance
        return to_outer if self.from_m == 0.0 else min(to_outer, distance - self.from_m)


class Sector(Ring):
    """A ring between two true bearings."""

    __slots__ = ("_bend", "_rays", "_wedges", "_wide")

    def __init__(
        self,
        centre: LatLon,
        own: Outline,
        from_m: float,
        to_m: float,
        left_deg: float,
        right_deg: float,
    ) -> None:
        super().__init__(centre, own, from_m, to_m)
        width = (right_deg - left_deg) % 360.0
        self._wedges: tuple[tuple[Point, Point], ...] = ()  # none: the full circle
        self._rays: tuple[Point, ...] = ()
        self._wide = width > 180.0
        # How far, per square metre of range, the convergence of meridians may turn a bearing.
        self._bend = 1.2 * abs(math.tan(math.radians(centre.lat))) / (2 * 6_357_000.0)
        if width == 0.0:
            return
        cuts = [left_deg, right_deg]
        if self._wide:
            cuts.insert(1, left_deg + width / 2)  # a wedge of more than half is no convex one
        ways = [_unit(cut) for cut in cuts]
        self._wedges = tuple(pairwise(ways))
        reach = self.reach_m
        self._rays = tuple((x * reach, y * reach) for x, y in (_unit(left_deg), _unit(right_deg)))

    def has(self, lat: float, lon: float, hull: Outline) -> bool:
        if not self._wedges:
            return super().has(lat, lon, hull)
        east, north = self._frame.at(lat, lon)
        distance = math.hypot(east, north)
        if distance - self.own.reach_m - hull.reach_m > self.to_m + EDGE_M:
            return False
        whole = self._whole(east, north, hull.reach_m + self._bend * distance * distance)
        if whole is None:
            return self.outside_m(lat, lon, hull) == 0.0
        return whole and super().has(lat, lon, hull)

    def outside_m(self, lat: float, lon: float, hull: Outline) -> float:
        if not self._wedges:
            return super().outside_m(lat, lon, hull)
        east, north = self._place(lat, lon)
        distance = math.hypot(east, north)
        slack = self.own.reach_m + hull.reach_m
        if distance - slack > self.to_m + FAR_M:
            return distance - slack - self.to_m
        whole = self._whole(east, north, hull.reach_m)
        if whole is True:
            return super().outside_m(lat, lon, hull)
        if whole is False:
            off = min(to_segment((east, north), (0.0, 0.0), ray) for ray in self._rays)
            return max(EDGE_M, off - hull.reach_m, distance - slack - self.to_m)
        if hull is POINT:
            corners: Hull = ((east, north),)
        else:
            corners = tuple((x + east, y + north) for x, y in hull.hull())
        least = math.inf
        for left, right in self._wedges:
            piece = clip(corners, left[1], -left[0], EDGE_M)
            if piece:
                piece = clip(piece, -right[1], right[0], EDGE_M)
            if piece:
                least = min(least, self._of_piece(piece))
        if least < math.inf:
            return least
        off = min(to_segment(p, (0.0, 0.0), ray) for p in corners for ray in self._rays)
        return max(off, self._of_piece(corners))

    def _whole(self, x: float, y: float, reach_m: float) -> bool | None:
        """True when a hull of that reach lies wholly between the limits, False when wholly
        outside them; None near a limit, where it has to be looked at closely."""
        reach_m += 2 * EDGE_M
        (lx, ly), (rx, ry) = self._rays
        from_left = (x * ly - y * lx) / self.reach_m  # clockwise of the left limit: positive
        from_right = (y * rx - x * ry) / self.reach_m
        near, far = min(from_left, from_right), max(from_left, from_right)
        if self._wide:
            return True if far >= reach_m else False if far <= -reach_m else None
        return True if near >= reach_m else False if near <= -reach_m else None

    def depth_m(self, lat: float, lon: float) -> float:
        if not self._wedges:
            return super().depth_m(lat, lon)
        point = self._place(lat, lon)
        radial = self._depth(math.hypot(*point))
        off = min(to_segment(point, (0.0, 0.0), ray) for ray in self._rays)
        for left, right in self._wedges:
            piece = clip((point,), left[1], -left[0])
            if piece and clip(piece, -right[1], right[0]):
                return min(radial, off) if radial >= 0 else radial
        return -off if radial >= 0 else min(radial, -off)

    def _place(self, lat: float, lon: float) -> Point:
        """In the plane, turned by half the convergence of the meridians: so its bearing is
        that of the geodesic as it starts out."""
        east, north = self._frame.at(lat, lon)
        if abs(east) < CURVED_M:
            return east, north
        dlon = (lon - self.centre.lon + 180.0) % 360.0 - 180.0
        turn = math.radians(dlon / 2 * math.sin(math.radians((lat + self.centre.lat) / 2)))
        s, c = math.sin(turn), math.cos(turn)
        return east * c - north * s, north * c + east * s


class Polygon:
    """A ground-fixed polygon; its edges are straight in latitude and longitude."""

    __slots__ = ("_box", "_corners", "_per_lat", "_per_lon", "centre", "reach_m")

    def __init__(self, corners: Sequence[tuple[float, float]]) -> None:
        """corners: (lat, lon) in order; may run across the antimeridian, not over a pole."""
        first_lon = corners[0][1]
        lats = [lat for lat, _ in corners]
        lons = [(lon - first_lon + 180.0) % 360.0 - 180.0 for _, lon in corners]
        middle = (max(lons) + min(lons)) / 2
        self.centre = LatLon((max(lats) + min(lats)) / 2, wrap_longitude(first_lon + middle))
        self._per_lon, self._per_lat = metres_per_degree(self.centre.lat)
        self._corners = tuple(
            ((lon - middle) * self._per_lon, (lat - self.centre.lat) * self._per_lat)
            for lat, lon in zip(lats, lons, strict=True)
        )
        self.reach_m = max(math.hypot(*corner) for corner in self._corners)
        xs, ys = [p[0] for p in self._corners], [p[1] for p in self._corners]
        self._box = (min(xs), min(ys), max(xs), max(ys))

    def has(self, lat: float, lon: float, hull: Outline) -> bool:
        x, y = self._place(lat, lon)
        west, south, east, north = self._box
        slack = hull.reach_m + EDGE_M
        if x < west - slack or x > east + slack or y < south - slack or y > north + slack:
            return False
        if inside((x, y), self._corners):
            return True
        return polygon_gap(_moved(hull, x, y), self._corners) - hull.radius_m <= EDGE_M

    def outside_m(self, lat: float, lon: float, hull: Outline) -> float:
        x, y = self._place(lat, lon)
        west, south, east, north = self._box
        off = max(west - x, x - east, south - y, y - north) - hull.reach_m
        if off > FAR_M:
            return off
        if inside((x, y), self._corners):
            return 0.0
        gap = polygon_gap(_moved(hull, x, y), self._corners) - hull.radius_m
        return gap if gap > EDGE_M else 0.0

    def depth_m(self, lat: float, lon: float) -> float:
        point = self._place(lat, lon)
        edge = to_edges(point, self._corners)
        return edge if inside(point, self._corners) else -edge

    def crosses_itself(self) -> bool:
        """Whether two edges that are not neighbours cut each other."""
        corners = self._corners
        edges = [(corners[i - 1], corners[i]) for i in range(len(corners))]
        return any(
            crossing(*edges[i], *edges[j]) is not None
            for i in range(len(edges))
            for j in range(i + 2, len(edges))
            if not (i == 0 and j == len(edges) - 1)
        )

    def _place(self, lat: float, lon: float) -> Point:
        dlon = (lon - self.centre.lon + 180.0) % 360.0 - 180.0
        return dlon * self._per_lon, (lat - self.centre.lat) * self._per_lat


class Line:
    """The water beyond a line that goes on straight past its ends. `safe`: +1 when the right
    hand side of the line (from its first point on) is the safe one, -1 for the left."""

    __slots__ = ("_points", "_polygon", "centre", "reach_m", "safe")

    def __init__(self, points: Sequence[tuple[float, float]]) -> None:
        self._polygon = Polygon(points)
        self.centre, self.reach_m = self._polygon.centre, LINE_GOES_ON_M
        corners = [self._polygon._place(lat, lon) for lat, lon in points]
        self._points = (
            _beyond(corners[1], corners[0]),
            *corners[1:-1],
            _beyond(corners[-2], corners[-1]),
        )
        self.safe = 0

    def side(self, lat: float, lon: float) -> int:
        """On which side a place lies: +1 right, -1 left."""
        x, y = self._polygon._place(lat, lon)
        nearest, side = (math.inf, 0.0), 1.0
        for a, b in pairwise(self._points):
            across = (b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0])
            length = math.hypot(b[0] - a[0], b[1] - a[1])
            # At a bend two pieces are equally near; the one that it lies more squarely off counts.
            rank = (round(to_segment((x, y), a, b), 6), -abs(across) / length)
            if rank < nearest:
                nearest, side = rank, across
        return 1 if side <= 0 else -1

    def has(self, lat: float, lon: float, hull: Outline) -> bool:
        return self.outside_m(lat, lon, hull) == 0.0

    def outside_m(self, lat: float, lon: float, hull: Outline) -> float:
        if self.side(lat, lon) != self.safe:
            return 0.0
        return max(0.0, self._distance(lat, lon, hull))

    def depth_m(self, lat: float, lon: float) -> float:
        away = self._distance(lat, lon, POINT)
        return -away if self.side(lat, lon) == self.safe else away

    def _distance(self, lat: float, lon: float, hull: Outline) -> float:
        place = self._polygon._place(lat, lon)
        moved = _moved(hull, *place)
        pairs = list(pairwise(self._points))
        if any(not _all_one_side(moved, a, b) and hull_gap(moved, (a, b)) == 0.0 for a, b in pairs):
            return 0.0
        return min(to_segment(p, a, b) for p in moved for a, b in pairs) - hull.radius_m


def _all_one_side(points: Hull, a: Point, b: Point) -> bool:
    sides = [(b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0]) > 0 for x, y in points]
    return all(sides) or not any(sides)


def _beyond(a: Point, b: Point) -> Point:
    """The line from a to b, carried on far past b."""
    length = math.hypot(b[0] - a[0], b[1] - a[1]) or 1.0
    far = LINE_GOES_ON_M / length
    return b[0] + far * (b[0] - a[0]), b[1] + far * (b[1] - a[1])


def _moved(hull: Outline, east: float, north: float) -> Hull:
    return ((east, north),) if hull is POINT else hull.moved(east, north)


def _unit(bearing_deg: float) -> Point:
    angle = math.radians(bearing_deg)
    return math.sin(angle), math.cos(angle)
