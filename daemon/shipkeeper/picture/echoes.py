"""Echoes of a radar's tracker taken in as targets: placed, smoothed, told apart by track.

A radar gives its numbers out anew: number 12 tonight may be three ships one after another. So
a number that comes back far away, or after it was lost, is a new target with a new key, or a
remembered neighbour's number would hide a stranger. The other way round one ship may be given
a new number, when the tracker lost her for some scans or was started anew: a young track that
goes on where another has just ended, with its motion, is that ship still.
"""

from __future__ import annotations

import math

from ..words.geo import LatLon, east_north, from_east_north, plane_bearing, velocity
from ..words.observations import RadarEcho, RadarPlace
from ..words.units import MS_PER_KN
from .reporting import SCANS_S, lost_after_s
from .smoothing import Smoother
from .targets import Target

JUMP_MS = 100.0 * MS_PER_KN
JUMP_SLACK_M = 200.0  # radar noise: 50 m or 1 % of range, 2 degrees (MSC.192(79) 5.25.4)
SAME_SCAN_S = 0.5  # TTM and TLL of one scan are one look
YOUNG_S = 30.0  # so long a track may turn out to go on with an older one
UNHEARD_SCANS = 2.5  # after so many without it a track has ended
ENDED_AT_MOST_S = 60.0  # before the young one began
GOES_ON_M = 100.0  # from where the older one would be: the noise of both
GOES_ON_MS = 2.0  # difference in velocity, and so much may she have altered since
STATED_MEMORY_S = 20.0  # over this the radar's own course and speed are smoothed
Vector = tuple[float, float]


class Echoes:
    """Which track has which key, by input and number."""

    def __init__(self, own_reach_m: float = 0.0) -> None:
        self.own_reach_m = own_reach_m
        self._key: dict[tuple[str, int], str] = {}
        self._stated: dict[str, tuple[Vector, float]] = {}  # key -> smoothed velocity, stamp
        self._begun: dict[str, float] = {}  # key -> when the track began, while it is young

    def put(
        self,
        by_key: dict[str, Target],
        fact: RadarEcho | RadarPlace,
        source: str,
        at_s: float,
        own_place: LatLon | None,
        heading_deg: float | None,
        own_velocity: tuple[float, float] | None,
    ) -> Target | None:
        """Take one echo in. Returns its target, None when it is of no use."""
        place = _place_of(fact, own_place, heading_deg)
        if place is not None and own_place is not None and self._is_own(own_place, place):
            return None
        target = self._track(by_key, fact, source, at_s, place)
        if target is None:
            return None
        target.name = fact.name.strip() or target.name
        target.reference = fact.reference
        if fact.status == "lost":
            target.lost = True
            return target
        self._heard(target, at_s, fact.status == "acquiring")
        if place is not None:
            self._move(target, place, at_s, _stated(fact, heading_deg, own_velocity))
        return target

    def elder(self, by_key: dict[str, Target], young: Target, at_s: float) -> Target | None:
        """The track that this one goes on with, under another number; None when it is new."""
        begun_s = self._begun.get(young.key)
        if begun_s is None or young.placed_s != at_s:
            return None
        if at_s - begun_s > YOUNG_S:
            del self._begun[young.key]
            return None
        best, least = None, math.inf
        for key in set(self._key.values()):
            other = by_key.get(key)
            if other is not None and other is not young and other.source == young.source:
                away = _goes_on(other, young, begun_s, at_s)
                if away is not None and away < least:
                    best, least = other, away
        return best

    def take_over(self, elder: Target, young: Target, at_s: float) -> None:
        """The elder goes on under the young one's number; the young one must be let go."""
        name = (young.source, young.number or 0)
        self._key = {n: key for n, key in self._key.items() if key not in (elder.key, young.key)}
        self._key[name] = elder.key
        elder.number, elder.name = young.number, young.name or elder.name
        elder.acquiring, elder.reference, elder.lost = young.acquiring, young.reference, False
        elder.interval_s, elder.last_s = young.interval_s, at_s
        elder.updates += young.updates
        elder.smoother = young.smoother
        if young.lat is not None and young.lon is not None:
            elder.put_place(young.lat, young.lon, at_s)
        elder.put_motion(young.speed_ms, young.course_deg)
        elder.reckon_s = lost_after_s(elder)
        self._stated.pop(elder.key, None)
        if young.key in self._stated:
            self._stated[elder.key] = self._stated[young.key]

    def forget(self, key: str) -> None:
        self._stated.pop(key, None)
        self._begun.pop(key, None)
        self._key = {name: held for name, held in self._key.items() if held != key}

    def _is_own(self, own_place: LatLon, place: LatLon) -> bool:
        return math.hypot(*east_north(own_place, place)) < self.own_reach_m

    def _track(
        self,
        by_key: dict[str, Target],
        fact: RadarEcho | RadarPlace,
        source: str,
        at_s: float,
        place: LatLon | None,
    ) -> Target | None:
        key = self._key.get((source, fact.number))
        target = by_key.get(key) if key is not None else None
        if target is not None and not _is_another(target, place, at_s):
            return target
        if fact.status == "lost":
            return target
        if target is not None:
            target.lost = True  # its number is another's now: it will not be heard of again
        key = _free_key(by_key, fact.number)
        self._key[source, fact.number] = key
        target = by_key[key] = Target(key, "radar", at_s)
        target.number, target.station, target.source = fact.number, "radar", source
        target.acquiring = True
        self._begun[key] = at_s
        return target

    @staticmethod
    def _heard(target: Target, at_s: float, acquiring: bool) -> None:
        gap = at_s - target.last_s
        if gap >= SAME_SCAN_S and target.updates:
            usual = target.interval_s
            target.interval_s = (
                gap if usual is None else usual + 0.2 * (min(gap, 3 * usual) - usual)
            )
        if gap >= SAME_SCAN_S or not target.updates:
            target.updates += 1
        if target.acquiring and not acquiring:
            target.first_s, target.updates = at_s, 1
        target.acquiring = acquiring
        target.last_s = at_s
        target.lost = False

    def _move(self, target: Target, place: LatLon, at_s: float, stated: Vector | None) -> None:
        smoother = target.smoother
        if smoother is None:
            smoother = target.smoother = Smoother(place, at_s)
        elif target.placed_s is None or at_s - target.placed_s >= SAME_SCAN_S:
            smoother.put(place, at_s)
        elif stated is None:
            return  # the same look once more, with nothing new
        target.put_place(smoother.place.lat, smoother.place.lon, at_s)
        motion = self._smooth(target.key, stated, at_s) if stated is not None else None
        if motion is None and smoother.is_steady:
            motion = smoother.velocity
        if motion is None:
            target.put_motion(None, None)
        else:
            speed = math.hypot(*motion)
            target.put_motion(0.0 if target.reference else speed, plane_bearing(*motion))
        target.reckon_s = lost_after_s(target)

    def _smooth(self, key: str, stated: Vector, at_s: float) -> Vector:
        known = self._stated.get(key)
        if known is None:
            self._stated[key] = (stated, at_s)
            return stated
        (ve, vn), then_s = known
        share = 1.0 - math.exp(-max(0.0, at_s - then_s) / STATED_MEMORY_S)
        motion = (ve + share * (stated[0] - ve), vn + share * (stated[1] - vn))
        self._stated[key] = (motion, at_s)
        return motion


def _place_of(
    fact: RadarEcho | RadarPlace, own_place: LatLon | None, heading_deg: float | None
) -> LatLon | None:
    if isinstance(fact, RadarPlace):
        return LatLon(fact.lat, fact.lon)
    if fact.range_m is None or fact.bearing_deg is None or own_place is None:
        return None
    bearing = fact.bearing_deg
    if fact.bearing_relative:
        if heading_deg is None:
            return None
        bearing += heading_deg
    return from_east_north(own_place, *velocity(fact.range_m, bearing))


def _stated(
    fact: RadarEcho | RadarPlace,
    heading_deg: float | None,
    own_velocity: tuple[float, float] | None,
) -> Vector | None:
    """Velocity over ground as the radar says it. A relative course is that of the relative
    motion, from the bow: own motion is added to it (check-values 4.2, TTM)."""
    if isinstance(fact, RadarPlace) or fact.speed_ms is None or fact.course_deg is None:
        return None
    if not fact.course_relative:
        return velocity(fact.speed_ms, fact.course_deg)
    if heading_deg is None or own_velocity is None:
        return None
    ve, vn = velocity(fact.speed_ms, fact.course_deg + heading_deg)
    oe, on = velocity(*own_velocity)
    return ve + oe, vn + on


def _goes_on(elder: Target, young: Target, begun_s: float, at_s: float) -> float | None:
    """How far the young track is from where the elder would be now; None: it is another ship."""
    if elder.placed_s is None or elder.lat is None or elder.lon is None:
        return None
    scan_s = elder.interval_s or SCANS_S[0]
    ended = elder.lost or at_s - elder.last_s > UNHEARD_SCANS * scan_s
    if not ended or not 0.0 <= begun_s - elder.last_s <= ENDED_AT_MOST_S:
        return None
    gap_s, (ve, vn), (ye, yn) = at_s - elder.placed_s, elder.motion(), young.motion()
    place = young.place()
    if place is None or young.speed_ms is None or elder.speed_ms is None:
        return None  # of what lies still and tells no motion one echo is like another
    if math.hypot(ve - ye, vn - yn) > GOES_ON_MS:
        return None
    there = from_east_north(LatLon(elder.lat, elder.lon), ve * gap_s, vn * gap_s)
    away = math.hypot(*east_north(there, place))
    return away if away <= GOES_ON_M + 0.5 * GOES_ON_MS * gap_s else None


def _is_another(target: Target, place: LatLon | None, at_s: float) -> bool:
    """Whether the number has been given to another ship."""
    was = target.place_at(at_s)
    if was is None or place is None or target.placed_s is None:
        return False
    away = math.hypot(*east_north(was, place))
    return away > JUMP_SLACK_M + JUMP_MS * max(0.0, at_s - target.placed_s) or (
        target.lost and away > 2 * JUMP_SLACK_M
    )


def _free_key(by_key: dict[str, Target], number: int) -> str:
    key, again = f"radar:{number}", 1
    while key in by_key:
        again += 1
        key = f"radar:{number}/{again}"
    return key
