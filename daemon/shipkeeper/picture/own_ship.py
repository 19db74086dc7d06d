"""Own ship: position, motion, heading, depth and wind as known now, each with its age.

Positions pass one gate here: a fix that would have needed more than 100 m in a second is
held back as lost, not shown as drag (alerts.md, feature 105). If the receiver stays at the
new place for `BELIEVE_JUMP_S` it is believed: a receiver that was wrong before must not keep
the truth out for ever.
"""

from __future__ import annotations

import math

from ..words.geo import LONGEST_DEGREE_M, LatLon, east_north, plane_bearing, velocity
from ..words.observations import (
    Depth,
    FixQuality,
    Heading,
    Position,
    PositionInvalid,
    Variation,
    Velocity,
    WaterSpeed,
    Wind,
)
from .channel import Channel, Reading

JUMP_MS = 100.0  # alerts.md 105: over 100 m in 1 s is lost, not drag (our decision)
SPARE_MS = 1.0  # faster than she was last seen to be, ours
BELIEVE_JUMP_S = 150.0  # longer than multipath lasts; drag.md section 3
# Beyond these a fix says too little of an anchored boat to be used (ours; a fix is out by
# about 5 m times its HDOP, common practice, no source).
POOR_HDOP = 10.0
POOR_SIGMA_M = 50.0
STALE_POSITION_S = 10.0
STALE_S = 15.0


def is_poor(quality: FixQuality) -> bool:
    """Its own receiver calls the fix too doubtful to be used."""
    return (quality.hdop is not None and quality.hdop > POOR_HDOP) or (
        quality.sigma_m is not None and quality.sigma_m > POOR_SIGMA_M
    )


class Gate:
    """Per input: lets plausible fixes through and holds implausible ones back."""

    __slots__ = ("accepted", "accepted_s", "held", "held_since_s", "last_s")

    def __init__(self) -> None:
        self.accepted: LatLon | None = None
        self.accepted_s = self.last_s = 0.0
        self.held: LatLon | None = None
        self.held_since_s: float | None = None

    def passes(self, place: LatLon, at_s: float, speed_ms: float = 0.0) -> bool:
        """speed_ms: that of the boat as last believed."""
        # While fixes go on coming the time that a jump is held back lends it no credit.
        gap_s, self.last_s = at_s - self.last_s, at_s
        sailed_m = (speed_ms + SPARE_MS) * (at_s - self.accepted_s)
        if self.accepted is None or _reachable(self.accepted, place, gap_s, sailed_m):
            self._accept(place, at_s)
            return True
        if self.held is None or not _reachable(self.held, place, gap_s):
            self.held_since_s = at_s  # a first jump, or a jump to yet another place
        self.held = place
        if self.held_since_s is not None and at_s - self.held_since_s >= BELIEVE_JUMP_S:
            self._accept(place, at_s)
            return True
        return False

    def _accept(self, place: LatLon, at_s: float) -> None:
        self.accepted, self.accepted_s = place, at_s
        self.held, self.held_since_s = None, None


def _reachable(a: LatLon, b: LatLon, gap_s: float, sailed_m: float = 0.0) -> bool:
    far_m = JUMP_MS * max(1.0, gap_s) + sailed_m
    if (abs(a.lat - b.lat) + abs(a.lon - b.lon)) * LONGEST_DEGREE_M <= far_m:
        return True  # as nearly always: the legs of the triangle are short enough
    east, north = east_north(a, b)
    return math.hypot(east, north) <= far_m


class OwnShip:
    """The own-ship half of the picture."""

    def __init__(self, order: dict[str, int]) -> None:
        self.position: Channel[LatLon] = Channel(order, STALE_POSITION_S)
        self.velocity: Channel[Velocity] = Channel(order, STALE_POSITION_S)
        self.quality: Channel[FixQuality] = Channel(order, 30.0)
        self.heading: Channel[float] = Channel(order, STALE_S)  # true
        self.magnetic: Channel[float] = Channel(order, STALE_S)
        self.variation: Channel[float] = Channel(order, 86400.0)
        self.depth: Channel[Depth] = Channel(order, STALE_S)
        self.sounder_offset_m: dict[str, float] = {}  # by input, as its DPT last told it
        self.apparent: Channel[Wind] = Channel(order, STALE_S)
        self.true_wind: Channel[Wind] = Channel(order, STALE_S)
        self.ground_wind: Channel[Wind] = Channel(order, STALE_S)
        self.winds = {
            "apparent": self.apparent,
            "true": self.true_wind,
            "north": self.ground_wind,
        }
        self.water_speed: Channel[WaterSpeed] = Channel(order, STALE_S)
        self.gates: dict[str, Gate] = {}
        self.invalid_since: dict[str, float] = {}  # input -> since when it says 'no fix'
        self.ais_echo: Reading[LatLon] | None = None  # own position as our transponder says it

    def put_position(self, fix: Position, source: str, at_s: float) -> bool:
        """Take a fix in; False when it was held back as implausible."""
        gate = self.gates.get(source)
        if gate is None:
            gate = self.gates[source] = Gate()
        place = LatLon(fix.lat, fix.lon)
        self.invalid_since.pop(source, None)
        velocity = self.velocity.last()
        if not gate.passes(place, at_s, velocity.value.speed_ms if velocity is not None else 0.0):
            self.position.withdraw(source)
            return False
        self.position.put(place, source, at_s)
        return True

    def put_invalid(self, _: PositionInvalid, source: str, at_s: float) -> None:
        self.invalid_since.setdefault(source, at_s)
        self.position.withdraw(source)
        self.velocity.withdraw(source)

    def put_heading(self, heading: Heading, source: str, at_s: float) -> None:
        self.headings(magnetic=heading.magnetic).put(heading.heading_deg, source, at_s)

    def headings(self, *, magnetic: bool) -> Channel[float]:
        """The one channel or the other."""
        return self.magnetic if magnetic else self.heading

    def put_variation(self, variation: Variation, source: str, at_s: float) -> None:
        self.variation.put(variation.variation_deg, source, at_s)

    def put_depth(self, depth: Depth, source: str, at_s: float) -> None:
        if depth.offset_m is not None:
            self.sounder_offset_m[source] = depth.offset_m
        self.depth.put(self.with_offset(depth, source), source, at_s)

    def with_offset(self, depth: Depth, source: str) -> Depth:
        """A sounder that sends DPT and DBT of one sounding tells its offset in DPT alone; it is
        a setting of the sounder, so it holds until that input tells another."""
        offset_m = self.sounder_offset_m.get(source)
        if depth.offset_m is not None or offset_m is None:
            return depth
        return Depth(depth.below_transducer_m, offset_m)

    def put_wind(self, wind: Wind, source: str, at_s: float) -> None:
        self.winds[wind.frame].put(wind, source, at_s)

    def heading_deg(self, now_s: float) -> float | None:
        """True heading, from a true source or magnetic plus variation; None when unknown."""
        true = self.heading.get(now_s)
        if true is not None:
            return true.value
        magnetic, variation = self.magnetic.get(now_s), self.variation.get(now_s)
        if magnetic is None or variation is None:
            return None
        return (magnetic.value + variation.value) % 360.0

    def _wind_less_way(self, now_s: float) -> tuple[float, float] | None:
        """The ground wind under way from the apparent wind; None unless all it takes is known."""
        wind, way, heading = self.apparent.get(now_s), self.velocity.get(now_s), None
        if wind is not None and way is not None:
            heading = self.heading_deg(now_s)
        if wind is None or way is None or heading is None or wind.value.angle_deg is None:
            return None
        if way.value.course_deg is None:
            return None
        from_e, from_n = velocity(wind.value.speed_ms, heading + wind.value.angle_deg)
        own_e, own_n = velocity(way.value.speed_ms, way.value.course_deg)
        east, north = from_e - own_e, from_n - own_n
        return math.hypot(east, north), plane_bearing(east, north)

    def wind_over_ground(self, now_s: float, at_rest: bool) -> tuple[float, float | None] | None:
        """(speed m/s, direction it blows from, true deg or None): the ground wind where one
        is sent; else true wind turned with heading; at rest the apparent wind is the same, and
        under way it is with own motion taken off."""
        ground = self.ground_wind.get(now_s)
        if ground is not None:
            return ground.value.speed_ms, ground.value.angle_deg
        reading = self.true_wind.get(now_s)
        if reading is None and at_rest:
            reading = self.apparent.get(now_s)
        if reading is None:
            return self._wind_less_way(now_s)
        heading = self.heading_deg(now_s)
        if heading is None or reading.value.angle_deg is None:
            return reading.value.speed_ms, None
        return reading.value.speed_ms, (reading.value.angle_deg + heading) % 360.0
