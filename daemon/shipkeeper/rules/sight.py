"""What rules about targets have in common: from where one looks, with what ears, at whom.

Made once a moment. Nothing is decided here; an absent value stays None.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Any

import msgspec

from ..picture.encounter import Encounter, Velocity, encounter
from ..picture.frame import Frame
from ..picture.outline import POINT, gap, own_outline, target_outline, together
from ..picture.plot import Placed
from ..picture.reporting import is_lost
from ..picture.targets import Target
from ..words.alert import Subject
from ..words.geo import plane_bearing, velocity
from ..words.orders import Vessel
from ..words.verdict import Verdict

if TYPE_CHECKING:
    from ..picture.picture import Picture

DEAF_S = 60.0  # so long may every ear be silent before nothing can be said of targets
EARS = frozenset({"ais", "radar"})


class Sight:
    """Own ship as the watcher, at one moment."""

    __slots__ = (
        "_said", "course", "frame", "heading_deg", "hull", "motion", "now_s", "place", "sigma_m",
        "utc_s",
    )  # fmt: skip

    def __init__(self, picture: Picture, vessel: Vessel, now_s: float, measure: str) -> None:
        own = picture.own
        self.now_s = now_s
        self.utc_s = picture.time.utc_s(now_s)
        self.place = picture.own_place(now_s)
        self.frame = None if self.place is None else Frame(self.place)
        self.heading_deg = own.heading_deg(now_s)
        self.course = own_course(picture, now_s)
        self.motion = own_motion(picture, self.heading_deg, now_s)
        self.hull = POINT
        if measure == "hull":
            self.hull = own_outline(vessel, self.heading_deg, self.course)
        quality = own.quality.get(now_s)
        sigma = quality.value.sigma_m if quality is not None else None
        self.sigma_m = sigma if sigma is not None else 3.0
        self._said: dict[str, dict[str, Any]] = {}

    def plane(self, lat: float, lon: float) -> tuple[float, float] | None:
        """A place in metres east and north of own antenna."""
        return None if self.frame is None else self.frame.at(lat, lon)

    def met(self, target: Target, east: float, north: float) -> Encounter | None:
        """The encounter of two antennas; None while own motion is not known."""
        if self.motion is None:
            return None
        return encounter(east, north, self.motion, target.motion(), self.heading_deg)

    def facts(self, target: Target, lat: float, lon: float, measure: str) -> dict[str, Any]:
        """What texts of every kind say of a target. The dict is the caller's own."""
        known = self._said.get(target.key)
        if known is None:
            known = self._said[target.key] = self._reckon(target, lat, lon, measure)
        return dict(known)

    def _reckon(self, target: Target, lat: float, lon: float, measure: str) -> dict[str, Any]:
        hull = target_outline(target) if measure == "hull" else POINT
        said: dict[str, Any] = {
            "name": target.label,
            "range_m": None,
            "bearing_deg": None,
            "relative_deg": None,
            "course_deg": target.course_deg,
            "speed_ms": target.speed_ms,
            "assumed": together(hull.assumed, self.hull.assumed),
            "source": target.kind if target.led_s is None else "radar",
        }
        if target.led_s is not None:
            said["ais_silent_s"] = round(self.now_s - target.led_s)
        if target.reckoned is not None:
            said["reckoned"] = True
            said["speed_ms"], said["course_deg"] = reckoned_way(target.reckoned)
        place = self.plane(lat, lon)
        return said if place is None else said | self.bears(target, place, measure)

    def bears(
        self, target: Target, place: tuple[float, float], measure: str
    ) -> dict[str, float | None]:
        """How far and in which direction, with her antenna so many metres east and north."""
        hull = target_outline(target) if measure == "hull" else POINT
        bearing, heading = round(plane_bearing(*place), 1), self.heading_deg
        return {
            "range_m": round(gap(self.hull, hull, *place), 1),
            "bearing_deg": bearing,
            "relative_deg": None if heading is None else round((bearing - heading) % 360.0, 1),
        }


def reckoned_way(way: Velocity) -> tuple[float, float | None]:
    """(speed m/s, course) of a way that a ship's places show; at rest there is no course."""
    speed = math.hypot(*way)
    return speed, plane_bearing(*way) if speed > 0.0 else None


def look(picture: Picture, vessel: Vessel, now_s: float, measure: str) -> Sight:
    """The sight of this moment; rules that measure alike share it and what it has worked out."""
    made = Sight(picture, vessel, now_s, measure)
    key = (measure, made.place, made.heading_deg, made.course, made.motion, made.sigma_m)
    shared: Sight = picture.targets.plot(now_s).memo.setdefault(key, made)
    return shared


def own_course(picture: Picture, now_s: float) -> tuple[float, float] | None:
    """(speed m/s, course) over ground when under way and known: what may serve for a heading."""
    if picture.watch.at_rest:
        return None  # she yaws and swings: her course is not where her bow points
    reading = picture.own.velocity.get(now_s)
    if reading is None or reading.value.course_deg is None:
        return None
    return reading.value.speed_ms, reading.value.course_deg


def own_motion(picture: Picture, heading_deg: float | None, now_s: float) -> Velocity | None:
    """Own velocity, m/s east and north; with a speed but no course the heading serves."""
    known = picture.own_velocity(now_s)
    if known is not None:
        return velocity(*known)
    reading = picture.own.velocity.get(now_s)
    if reading is None or heading_deg is None:
        return None
    return velocity(reading.value.speed_ms, heading_deg)


def axis_deg(picture: Picture, now_s: float) -> float | None:
    """Where 'ahead' is: heading, else course when making way; None when neither is known."""
    heading = picture.own.heading_deg(now_s)
    if heading is not None:
        return heading
    course = own_course(picture, now_s)
    return course[1] if course is not None and course[0] >= 0.51 else None


def deaf(picture: Picture, now_s: float) -> tuple[str, ...]:
    """What is missing when every input that should bring targets is dead; () while one lives.
    Where the orders expect no such input nothing can be said, and nothing is."""
    expected = [
        (name, EARS.intersection(what))
        for name, what in picture.inputs.expected.items()
        if EARS.intersection(what)
    ]
    if not expected:
        return ()
    if any(listens(picture, name, what, now_s) for name, what in expected):
        return ()
    return tuple(sorted(set().union(*(what for _, what in expected))))


def unplaced(picture: Picture, kinds: Iterable[str], now_s: float) -> tuple[str, ...]:
    """What is missing when a radar tells of ships that nobody can place: it gives bearings from
    the bow, and there is no heading. kinds: those that the rule leaves out."""
    known = now_s - picture.unplaced_s > DEAF_S or "radar" in kinds
    return () if known else ("heading",)


def listens(picture: Picture, name: str, what: AbstractSet[str], now_s: float) -> bool:
    """Whether it would bring a target if there were one. An empty bay is no deafness: of an AIS
    receiver only its own silence tells, once it has spoken at all."""
    health = picture.inputs.by_name.get(name)
    if health is None or "ais" not in what or health.last_line_s is None or health.woken:
        return is_alive(picture, name, now_s)
    return health.up is not False and health.ear.silent_since(now_s) is None


def is_alive(picture: Picture, name: str, now_s: float) -> bool:
    """Whether an input can be held to be listening."""
    health = picture.inputs.by_name.get(name)
    if health is None or health.up is False:
        return False
    return now_s - health.last_s(health.last_line_s) <= DEAF_S


def heard_by_living_ear(picture: Picture, target: Target, now_s: float) -> bool:
    """False when the input that brought the target is itself dead: then the target is not
    lost, we are."""
    expected = picture.inputs.expected.get(target.source, ())
    health = picture.inputs.by_name.get(target.source)
    if health is None:
        return True
    if health.up is False:
        return False
    return not EARS.intersection(expected) or is_alive(picture, target.source, now_s)


def silent(picture: Picture, target: Target, missed: int, now_s: float) -> bool | None:
    """Whether the target is lost. None when the input that brought it is dead: then we are
    deaf, and the ship may be as loud as ever. Of a pair the other half is seen."""
    if target.partner is not None or not is_lost(target, now_s, missed):
        return False
    return True if heard_by_living_ear(picture, target, now_s) else None


def as_last_heard(
    verdict: Verdict, target: Target, sight: Sight, measure: str, *, low: bool
) -> Verdict:
    """Of a target that fell silent: where it was last heard, told again even when acknowledged
    (IMO MSC.192(79) 5.29.5). low: the orders alone would not make it a warning."""
    facts = {**verdict.facts, "event": "lost", "last_lat": target.lat, "last_lon": target.lon}
    place = target.place()
    at = None if place is None else sight.plane(place.lat, place.lon)
    if at is not None:  # how far and where is of that place, not of where she might be by now
        facts |= sight.bears(target, at, measure)
    of_range = verdict.value == verdict.facts.get("range_m")
    value = facts.get("range_m") if of_range else verdict.value
    return msgspec.structs.replace(
        verdict, value=value, holds=True, gone=False, worse=True, facts=facts,
        lat=target.lat, lon=target.lon,
        priority="warning" if low else None,
    )  # fmt: skip


def placed(target: Target, now_s: float) -> Placed | None:
    """The target and where it is now; None when it has given no position."""
    place = target.place_at(now_s)
    return None if place is None else (target, place.lat, place.lon)


def speaks_as(target: Target, open_keys: AbstractSet[str]) -> Subject:
    """A pair goes by the AIS target, unless an alert already stands for the echo."""
    subject, partner = target.subject, target.partner
    if partner is None or partner not in open_keys or target.key in open_keys:
        return subject
    return msgspec.structs.replace(subject, key=partner)


def spoken_key(target: Target, open_keys: AbstractSet[str]) -> str:
    """The key of `speaks_as`, for the many that are only asked whether they are open."""
    partner = target.partner
    if partner is None or partner not in open_keys or target.key in open_keys:
        return target.key
    return partner


def distance_m(sight: Sight, lat: float, lon: float) -> float | None:
    """From own antenna."""
    place = sight.plane(lat, lon)
    return None if place is None else math.hypot(*place)
