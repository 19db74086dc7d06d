"""Zone: guarded water about the ship, the anchor or a place; who comes in, who leaves.

Consequence: something is near that was not there: a boat dragging down, one anchoring too
close, a thief's tender; or own ship is where she should not be.
Response: look out; find the light or the shape by the bearing told.
Time to respond: a minute or more.

Entering and being seen first inside count alike (IMO MSC.192(79) 5.29.3). Those inside when the
watch is set are neighbours: remembered by identity, not raised until they have been out. A
target that left stays 'left' until it is back inside.
"""

from __future__ import annotations

import math
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

import msgspec
from msgspec import field

from ..picture.outline import POINT, Outline, gap, own_outline, target_outline
from ..picture.targets import Target
from ..words.alert import OWN_SHIP
from ..words.geo import LatLon, east_north, plane_bearing, range_bearing
from ..words.orders import (
    Latitude,
    Longitude,
    Metres,
    Number,
    PriorityLabel,
    RuleOrders,
    Seconds,
    Vessel,
)
from ..words.verdict import NOTHING, Judgement, Verdict
from .filters import Ignore
from .zone_shapes import crosses_itself, polygon_depth, ring_depth, sector_depth

if TYPE_CHECKING:
    from ..picture.picture import Picture

FAR_SLACK_M = 500.0  # a prefilter may err by hulls and projection, not by more

Corner = tuple[Latitude, Longitude]
Bearing = Annotated[float, Number(-360.0, 360.0)]


class Ring(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`ring = { from = "0 m", to = "0.25 NM" }`"""

    from_m: Metres = field(default=0.0, name="from")
    to_m: Metres = field(name="to")


class Sector(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`sector = { left = 330, right = 30, from = ..., to = ..., bearings = "relative" }`"""

    left: Bearing
    right: Bearing
    from_m: Metres = field(default=0.0, name="from")
    to_m: Metres = field(name="to")
    bearings: Literal["relative", "true"] = "true"


class ZoneOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[[zone]]"""

    table: ClassVar[str] = "zone"
    left_out: ClassVar[dict[str, str]] = {"deadband": "the larger of 20 m and 5 % of the limit"}

    name: str
    priority: PriorityLabel | Literal["none"] = "warning"
    confirm_s: Seconds = field(default=0.0, name="confirm")
    clear_s: Seconds = field(default=60.0, name="clear")
    deadband_m: Metres | None = field(default=None, name="deadband")
    around: Literal["ship", "anchor"] | Corner = "ship"
    ring: Ring | None = None
    sector: Sector | None = None
    polygon: tuple[Corner, ...] | None = None
    subject: Literal["targets", "own ship"] = "targets"
    alarm_on: Literal["entering", "leaving", "both"] = "entering"
    accept_present: bool = True
    ignore: Ignore = Ignore()
    measure: Literal["hull", "antenna"] = "hull"

    def problems(self) -> list[tuple[str, str]]:
        shapes = {"ring": self.ring, "sector": self.sector, "polygon": self.polygon}
        given = [key for key, shape in shapes.items() if shape is not None]
        found = []
        if len(given) != 1:
            found.append(
                (given[1] if given else "ring", "give exactly one of ring, sector, polygon")
            )
        for key, shape in (("ring", self.ring), ("sector", self.sector)):
            if shape is not None and shape.from_m >= shape.to_m:
                found.append((key, "`from` must be less than `to`"))
        if self.polygon is not None:
            if len(self.polygon) < 3:
                found.append(("polygon", "needs at least three corners"))
            elif crosses_itself(_plane_corners(self.polygon)):
                found.append(("polygon", "its outline crosses itself; give corners in order"))
        found += self.ignore.cross_check(self.table)
        if self.subject == "own ship" and self.around == "ship" and self.polygon is None:
            found.append(("around", "own ship cannot be zoned about herself"))
        return found

    def explain(self) -> list[str]:
        who = "a target" if self.subject == "targets" else "own ship"
        what = {"entering": "enters", "leaving": "leaves", "both": "enters or leaves"}
        said = [f"raised when {who} {what[self.alarm_on]} ({self._shape_told()})"]
        if self.subject == "targets":
            if self.accept_present:
                said.append("those inside when the watch is set are neighbours, not raised")
            said.append("left out: " + ("; ".join(self.ignore.told()) or "nobody"))
            said.append(f"measured to the {self.measure}")
        return said

    def build(self, vessel: Vessel) -> Zone:
        return Zone(self, vessel)

    def _shape_told(self) -> str:
        about = self.around if isinstance(self.around, str) else "a position"
        if self.ring is not None:
            return f"{self.ring.from_m:g} to {self.ring.to_m:g} m about the {about}"
        if self.sector is not None:
            s = self.sector
            return (
                f"{s.left:g} to {s.right:g} degrees {s.bearings}, "
                f"{s.from_m:g} to {s.to_m:g} m about the {about}"
            )
        return f"a polygon of {len(self.polygon or ())} corners"


class _Kept(msgspec.Struct):
    neighbours: list[str] = []
    inside: list[str] = []
    left: list[str] = []
    off_until_s: float | None = None


class Zone:
    """See the module's first lines."""

    prompt = False

    def __init__(self, orders: ZoneOrders, vessel: Vessel) -> None:
        self.orders = orders
        self.vessel = vessel
        self.off_until_s: float | None = None
        self._neighbours: set[str] = set()
        self._settle = False  # the next judgement takes who is inside for neighbours
        self._inside: set[str] = set()
        self._left: set[str] = set()
        self._corners = _plane_corners(orders.polygon) if orders.polygon else ()
        self._origin = LatLon(*orders.polygon[0]) if orders.polygon else None
        self._bound_m = self._reach()

    # -- the contract ----------------------------------------------------------------------

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        if self.off_until_s is not None:
            if now_s < self.off_until_s:
                return NOTHING
            self.off_until_s = None
        frame = self._frame(picture, now_s)
        if isinstance(frame, str):
            return Judgement(missing=(frame,))
        centre, turn = frame
        if self.orders.subject == "own ship":
            return self._own(picture, centre, turn, now_s)
        own_hull = POINT
        if self.orders.measure == "hull" and self.orders.around == "ship" and self._origin is None:
            own_hull = own_outline(self.vessel, picture.own.heading_deg(now_s))
        verdicts = []
        seen: set[str] = set()
        for target, east, north in picture.targets.around(centre, now_s):
            distance2 = east * east + north * north
            near = distance2 <= self._bound_m * self._bound_m
            key = target.key
            if not near and key not in self._inside and key not in open_keys:
                self._neighbours.discard(key)
                continue
            seen.add(key)
            verdict = self._judge_target(
                picture, target, (east, north), turn, own_hull, now_s, key in open_keys
            )
            if verdict is not None:
                verdicts.append(verdict)
        self._settle = False
        return Judgement(tuple(verdicts))

    def watch_set(self, picture: Picture, now_s: float) -> None:
        self._neighbours.clear()
        self._inside.clear()
        self._left.clear()
        self._settle = self.orders.accept_present

    def remember(self) -> bytes | None:
        return msgspec.json.encode(
            _Kept(
                sorted(self._neighbours), sorted(self._inside), sorted(self._left), self.off_until_s
            )
        )

    def recall(self, state: bytes, now_s: float) -> None:
        try:
            kept = msgspec.json.decode(state, type=_Kept)
        except msgspec.DecodeError:
            return
        self._neighbours = set(kept.neighbours)
        self._inside, self._left = set(kept.inside), set(kept.left)
        self.off_until_s = kept.off_until_s

    def switch(self, on: bool, until_s: float | None) -> None:
        """Off until a time, or on again."""
        self.off_until_s = None if on else until_s

    def filters_in_force(self) -> list[str]:
        told = [f"leaves out {text}" for text in self.orders.ignore.told()]
        if self._neighbours:
            told.append(f"{len(self._neighbours)} neighbour(s) not raised")
        if self.off_until_s is not None:
            told.append("switched off for a time")
        return told

    def contains(self, key: str) -> bool:
        """Whether the target was inside at the last judgement."""
        return key in self._inside

    # -- one target ------------------------------------------------------------------------

    def _judge_target(
        self,
        picture: Picture,
        target: Target,
        place: tuple[float, float],
        turn: float,
        own_hull: Outline,
        now_s: float,
        is_open: bool,
    ) -> Verdict | None:
        key = target.key
        hull = target_outline(target) if self.orders.measure == "hull" else POINT
        depth = self._depth(place, turn, own_hull, hull)
        inside = depth >= 0
        was_inside = key in self._inside
        if inside:
            self._inside.add(key)
            self._left.discard(key)
        else:
            self._inside.discard(key)
            if depth < -self._band():
                self._neighbours.discard(key)
            if was_inside:
                self._left.add(key)
        if self._settle and inside:
            self._neighbours.add(key)
        distance = math.hypot(*place)
        reason = self.orders.ignore.why_not(target, distance, now_s)
        if (reason and not is_open) or target.lost:
            return None
        left = key in self._left and self.orders.alarm_on != "entering"
        entered = inside and key not in self._neighbours and self.orders.alarm_on != "leaving"
        if not (entered or left or is_open):
            return None
        own_place = picture.own_place(now_s)
        at = target.place_at(now_s)
        shown, bearing = (
            range_bearing(own_place, at) if own_place is not None and at is not None
            else (distance, plane_bearing(*place))
        )  # fmt: skip
        limit = self._limit()
        return Verdict(
            subject=target.subject,
            holds=entered or left,
            gone=not left and depth < -self._band(),
            value=round(shown, 1),
            limit=limit,
            unit="m",
            lat=target.lat,
            lon=target.lon,
            data_at_s=target.placed_s,
            facts={
                "name": target.label,
                "zone": self.orders.name,
                "event": "left" if left else "entered" if was_inside or inside else "inside",
                "range_m": shown,
                "bearing_deg": bearing,
                "course_deg": target.course_deg,
                "speed_ms": target.speed_ms,
                "assumed": hull.assumed,
                "source": target.kind,
            },
        )

    def _own(self, picture: Picture, centre: LatLon, turn: float, now_s: float) -> Judgement:
        own_place = picture.own_place(now_s)
        if own_place is None:
            return Judgement(missing=("position",))
        place = east_north(centre, own_place)
        hull = POINT
        if self.orders.measure == "hull":
            hull = own_outline(self.vessel, picture.own.heading_deg(now_s))
        depth = self._depth(place, turn, POINT, hull)
        inside, band = depth >= 0, self._band()
        key = OWN_SHIP.key
        was = key in self._inside
        (self._inside.add if inside else self._inside.discard)(key)
        if self._settle:
            self._settle = False
            if inside:
                self._neighbours.add(key)
        if not inside:
            self._neighbours.discard(key)
            if was:
                self._left.add(key)
        else:
            self._left.discard(key)
        entered = inside and key not in self._neighbours and self.orders.alarm_on != "leaving"
        left = key in self._left and self.orders.alarm_on != "entering"
        gone = not left and (depth < -band if self.orders.alarm_on != "leaving" else depth > band)
        return Judgement(
            (
                Verdict(
                    subject=OWN_SHIP,
                    holds=entered or left,
                    gone=gone,
                    value=round(math.hypot(*place), 1),
                    limit=self._limit(),
                    unit="m",
                    lat=own_place.lat,
                    lon=own_place.lon,
                    data_at_s=now_s,
                    facts={
                        "name": "own ship",
                        "zone": self.orders.name,
                        "event": "left" if left else "entered",
                        "range_m": math.hypot(*place),
                        "bearing_deg": plane_bearing(*place),
                        "own": True,
                    },
                ),
            )
        )

    # -- the shape -------------------------------------------------------------------------

    def _frame(self, picture: Picture, now_s: float) -> tuple[LatLon, float] | str:
        """Where the shape's plane has its origin, and how far it is turned; or what is missing."""
        turn = 0.0
        if self.orders.sector is not None and self.orders.sector.bearings == "relative":
            heading = picture.own.heading_deg(now_s)
            if heading is None:
                motion = picture.own_velocity(now_s)
                if motion is None or motion[0] < 1.0:
                    return "heading"
                heading = motion[1]
            turn = heading
        if self._origin is not None:
            return self._origin, turn
        if self.orders.around == "ship":
            place = picture.own_place(now_s)
            return "position" if place is None else (place, turn)
        if self.orders.around == "anchor":
            mark = picture.watch.mark
            return "anchor mark" if mark is None else (mark.place, turn)
        return LatLon(*self.orders.around), turn

    def _depth(
        self, place: tuple[float, float], turn: float, own_hull: Outline, hull: Outline
    ) -> float:
        """How far inside the zone the target (its nearest part) is, m."""
        if self.orders.ring is not None:
            ring = self.orders.ring
            if own_hull is POINT and hull is POINT:
                return ring_depth(math.hypot(*place), ring.from_m, ring.to_m)
            nearest = gap(own_hull, hull, *place)
            farthest = math.hypot(*place) + hull.reach_m
            return min(ring.to_m - nearest, farthest - ring.from_m if ring.from_m else math.inf)
        points = [place, *((place[0] + x, place[1] + y) for x, y in hull.points)]
        slack = hull.radius_m
        if self.orders.sector is not None:
            s = self.orders.sector
            left, right = s.left + turn, s.right + turn
            return slack + max(sector_depth(p, left, right, s.from_m, s.to_m) for p in points)
        return slack + max(polygon_depth(p, self._corners) for p in points)

    def _band(self) -> float:
        given = self.orders.deadband_m
        if given is not None:
            return given
        return max(20.0, 0.05 * (self._limit() or 0.0))

    def _limit(self) -> float | None:
        if self.orders.ring is not None:
            return self.orders.ring.to_m
        return self.orders.sector.to_m if self.orders.sector is not None else None

    def _reach(self) -> float:
        """A radius about the origin that the zone cannot exceed."""
        limit = self._limit()
        if limit is None:
            limit = max(math.hypot(*corner) for corner in self._corners)
        return limit * 1.01 + FAR_SLACK_M + self._band()


def _plane_corners(polygon: tuple[Corner, ...]) -> tuple[tuple[float, float], ...]:
    """Corners in metres east and north of the first one; right across the antimeridian."""
    origin = LatLon(*polygon[0])
    return tuple(east_north(origin, LatLon(*corner)) for corner in polygon)
