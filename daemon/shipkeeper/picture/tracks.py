"""The set of targets: reports and echoes taken in, the old dropped, the set bounded.

Two gates stand at the door of the AIS. A report that an earlier one of the same ship already
told (two receivers heard it) is not taken twice, nor one that comes late. And a place that
would have needed more than 100 knots to reach is held back until three reports agree on it:
a spoofed or broken position must not sail a ship into a guarded zone.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from ..words.geo import LONGEST_DEGREE_M, LatLon, angle_difference, east_north
from ..words.observations import AisAid, AisReport, AisStatic, AisText, RadarEcho, RadarPlace
from ..words.units import MAKING_WAY_MS, MS_PER_KN
from .association import Association
from .capacity import CAPACITY, shed
from .cells import Cells
from .echoes import Echoes
from .plot import Plot
from .reporting import ACTIVE_STATUS, BEACON_PREFIX, BEACONS, is_lost, lost_after_s
from .silence import Silence
from .smoothing import Smoother
from .target_news import TargetNews
from .targets import DROP_AFTER_S, Target

JUMP_MS = 100.0 * MS_PER_KN
JUMP_SLACK_M = 50.0  # GNSS noise and a second of difference in stamps
AIRCRAFT_MS = 400.0 * MS_PER_KN
AGREEING = 3
LATE_S = 20.0
LONG_RANGE_AFTER_S = 60.0  # a coarse report does not push out a fine one that is younger
BEND_LEAST_MS = 1.5  # below three knots courses wander (common practice, no source)
BEND_GAP_S = 65.0
AIS_GAP_S = 200.0  # the slowest stations report every three minutes
WIDEST_M = 65.0
BURST = 1.25  # so far may the set overrun its bound until the next sweep


class Targets:
    """All targets by key. Own echo never gets here."""

    def __init__(
        self, own_mmsi: int = 0, own_reach_m: float = 0.0, capacity: int = CAPACITY
    ) -> None:
        self.own_mmsi = own_mmsi
        self.capacity = capacity
        self.by_key: dict[str, Target] = {}
        self.own_place: LatLon | None = None  # last known, for what is near and what is far
        self.shed_count = 0
        self.widest_m = WIDEST_M  # no hull reaches farther from its antenna than this
        self.news = TargetNews()
        # Who may call for help, or is an aid that says whether it is in its place: all others
        # need no look for it.
        self.marked: dict[str, Target] = {}
        self._ships: dict[int, Target] = {}  # those of `by_key` that AIS tells of, by MMSI
        self._radar: dict[str, Target] = {}  # those of `by_key` that a radar tracks
        self._echoes = Echoes(own_reach_m)
        self._association = Association()
        self._silence = Silence()
        self._cells = Cells()
        self._plot: Plot | None = None
        self._serial = 0

    def __iter__(self) -> Iterator[Target]:
        return iter(self.by_key.values())

    def __len__(self) -> int:
        return len(self.by_key)

    def get(self, key: str) -> Target | None:
        return self.by_key.get(key)

    @property
    def load(self) -> float:
        """How full the set is, 1 when nothing more fits; a caution is due from 0.95."""
        return len(self.by_key) / self.capacity

    def plot(self, now_s: float) -> Plot:
        """Where all of them are at that moment; made once and shared until something changes."""
        plot = self._plot
        if plot is None or plot.at_s != now_s:
            self._cells.move_on(self.by_key, now_s)
            plot = self._plot = Plot(self._cells, now_s)
        return plot

    # -- AIS -------------------------------------------------------------------------------

    def report(self, fact: AisReport, source: str, at_s: float) -> None:
        """A dynamic AIS report."""
        target = self._ais(fact.mmsi, at_s)
        coarse = fact.station == "long-range"
        if coarse and target.updates and at_s - target.last_s < LONG_RANGE_AFTER_S:
            return
        if _is_repeat(target, fact, at_s):
            return
        _count(target, at_s)
        target.source = source
        if not coarse or not target.station:
            target.station = fact.station
        if fact.station in BEACONS or fact.nav_status == ACTIVE_STATUS:
            self.marked[target.key] = target
        if fact.lat is not None and fact.lon is not None:
            if not self._believed(target, fact.lat, fact.lon, at_s):
                self._silence.watch(target)
                return
            target.put_place(fact.lat, fact.lon, at_s)
            target.lost, target.led_s = False, None
        elif target.placed_s is None:
            target.lost = False
        _bend(target, fact)
        target.second = fact.second
        target.heading_deg = fact.heading_deg
        target.turn_deg_min = fact.turn_deg_min
        target.nav_status = fact.nav_status
        target.accurate = fact.accurate
        if fact.carrier_sense is not None:
            target.carrier_sense = fact.carrier_sense
        self._move(target, fact, at_s)
        target.reckon_s = lost_after_s(target)
        self._cells.put(target)
        self._silence.watch(target)

    @staticmethod
    def _move(target: Target, fact: AisReport, at_s: float) -> None:
        """Her motion as she tells it; one that tells none, or no course to her speed, is
        followed by her places, as a radar follows an echo."""
        target.put_motion(fact.speed_ms, fact.course_deg)
        told = fact.speed_ms is not None and fact.course_deg is not None
        still = fact.speed_ms is not None and fact.speed_ms < MAKING_WAY_MS
        if told or still or fact.station in ("base", "aid"):
            target.smoother = None
            return
        if fact.lat is not None and fact.lon is not None:
            place = LatLon(fact.lat, fact.lon)
            if target.smoother is None:
                target.smoother = Smoother(place, at_s, AIS_GAP_S)
            else:
                target.smoother.put(place, at_s)
        if target.smoother is not None and target.smoother.is_steady:
            target.put_reckoned(*target.smoother.velocity)

    def static(self, fact: AisStatic, source: str, at_s: float) -> None:
        """Name, kind and size; parts that a message does not carry stay as they are."""
        target = self._ais(fact.mmsi, at_s)
        if not target.station and fact.station:
            target.station = fact.station
        for name in ("name", "callsign", "ship_type"):
            value = getattr(fact, name)
            if value is not None:
                setattr(target, name, value)
        if fact.to_stern_m is not None or fact.to_bow_m is not None:
            target.to_bow_m, target.to_stern_m = fact.to_bow_m, fact.to_stern_m
        if fact.to_starboard_m is not None or fact.to_port_m is not None:
            target.to_port_m, target.to_starboard_m = fact.to_port_m, fact.to_starboard_m
        target.hull = None
        for arm in (fact.to_bow_m, fact.to_stern_m):
            if arm is not None and arm > self.widest_m:
                self.widest_m = arm

    def aid(self, fact: AisAid, source: str, at_s: float) -> None:
        target = self._ais(fact.mmsi, at_s)
        target.station = target.station or "aid"
        target.name, target.virtual, target.off_position = (
            fact.name,
            fact.virtual,
            fact.off_position,
        )
        if fact.off_position is not None:
            self.marked[target.key] = target

    def said(self, fact: AisText, source: str, at_s: float) -> None:
        target = self._ais(fact.mmsi, at_s)
        target.text, target.text_s = fact.text, at_s
        target.last_s = at_s

    # -- radar -----------------------------------------------------------------------------

    def echo(
        self,
        fact: RadarEcho | RadarPlace,
        source: str,
        at_s: float,
        *,
        own_place: LatLon | None,
        heading_deg: float | None,
        own_velocity: tuple[float, float] | None,
    ) -> None:
        """A tracked radar target. own_velocity: (speed m/s, course deg)."""
        self._plot = None
        target = self._echoes.put(
            self.by_key, fact, source, at_s, own_place, heading_deg, own_velocity
        )
        if target is not None:
            if not target.serial:
                self._count_in(target)
            elder = self._echoes.elder(self.by_key, target, at_s)
            if elder is not None:
                self.news.put(
                    at_s, f"radar target {elder.number} goes on as number {target.number}"
                )
                self._echoes.take_over(elder, target, at_s)
                self._drop(target)
                target = elder
            self._cells.put(target)
            self._silence.watch(target)
            ship = self.by_key.get(target.partner) if target.partner is not None else None
            if ship is not None and ship.led_s is not None:
                self._follow(ship, target)
        if fact.status == "lost":
            self.news.put(at_s, f"radar target {fact.number} is lost by the radar's own word")

    # -- once a second -----------------------------------------------------------------------

    def sweep(self, now_s: float) -> None:
        """Drop what is too old, mark what is lost, join what is one ship."""
        for target in self._silence.due(self.by_key, now_s):
            if now_s - target.heard_s > DROP_AFTER_S:
                self._drop(target)
                continue
            if not target.lost and is_lost(target, now_s):
                self._lost(target, now_s)
            self._silence.watch(target)
        self._bound(now_s)
        plot = self.plot(now_s)
        self._association.update(self.by_key, self._radar, plot, self.own_place, now_s)

    def _lost(self, target: Target, now_s: float) -> None:
        """Silent for too long; but a ship that the radar sees is not lost with her AIS."""
        silent = f"silent for {now_s - target.sighted_s:.0f} s"
        echo = self._echo_of(target)
        if echo is not None and not is_lost(echo, now_s):
            self._follow(target, echo)
            self.news.put(now_s, f"the AIS of {target.label} is {silent}: followed by radar")
        else:
            target.lost = True
            self.news.put(now_s, f"{target.label} is lost: {silent}")

    def _echo_of(self, ship: Target) -> Target | None:
        return self._radar.get(ship.partner) if ship.partner is not None else None

    def _follow(self, ship: Target, echo: Target) -> None:
        ship.follow(echo)
        self._cells.put(ship)
        self._silence.watch(ship)
        self._plot = None

    def forget(self, key: str) -> None:
        """Let go of one at once: it turned out to be no target (own echo)."""
        target = self.by_key.get(key)
        if target is not None:
            self._drop(target)

    def _drop(self, target: Target) -> None:
        del self.by_key[target.key]
        self._cells.remove(target)
        self.marked.pop(target.key, None)
        self._radar.pop(target.key, None)
        if target.mmsi is not None:
            self._ships.pop(target.mmsi, None)
        self._association.forget(self.by_key, target)
        if target.kind == "radar":
            self._echoes.forget(target.key)
        self._plot = None

    def _bound(self, now_s: float) -> None:
        if len(self.by_key) <= self.capacity:
            return
        for target in shed(self.by_key.values(), self.capacity, self.own_place, now_s):
            self._drop(target)
            self.shed_count += 1
            self.news.put(now_s, f"{target.label} is let go: there are more than can be held")

    def _ais(self, mmsi: int, at_s: float) -> Target:
        self._plot = None
        target = self._ships.get(mmsi)
        if target is None:
            key = f"ais:{mmsi:09d}"
            if len(self.by_key) > BURST * self.capacity:
                self._bound(at_s)  # between two sweeps; the newcomer itself is not in it yet
            target = self._ships[mmsi] = self.by_key[key] = Target(key, "ais", at_s)
            target.mmsi = mmsi
            self._count_in(target)
            self._silence.watch(target)
            if mmsi // 1_000_000 in BEACON_PREFIX:
                self.marked[key] = target
        return target

    def _count_in(self, target: Target) -> None:
        """One more."""
        self._serial += 1
        target.serial = self._serial
        if target.kind == "radar":
            self._radar[target.key] = target

    def _believed(self, target: Target, lat: float, lon: float, at_s: float) -> bool:
        """Whether a place can be reached from the last one, or three reports agree on it."""
        if target.lat is None or target.lon is None or target.placed_s is None:
            return True
        fastest = AIRCRAFT_MS if target.station == "sar" else JUMP_MS
        degrees = abs(lat - target.lat) + abs(lon - target.lon)
        if degrees * LONGEST_DEGREE_M <= JUMP_SLACK_M + fastest * (at_s - target.placed_s):
            target.held_back = 0
            return True  # as nearly always: the legs of the triangle are short enough
        here = LatLon(lat, lon)
        if _reachable(LatLon(target.lat, target.lon), target.placed_s, here, at_s, fastest):
            target.held_back = 0
            return True
        held = LatLon(target.held_lat, target.held_lon)
        if target.held_back and _reachable(held, target.held_s, here, at_s, fastest):
            target.held_back -= 1
        else:
            target.held_back = AGREEING - 1
            self.news.put(at_s, f"{target.label} jumped: held back until three reports agree")
        target.held_lat, target.held_lon, target.held_s = lat, lon, at_s
        target.smoother = None  # wherever she is, no way leads there from where she was
        return target.held_back == 0


def _reachable(a: LatLon, a_s: float, b: LatLon, b_s: float, fastest_ms: float) -> bool:
    away = math.hypot(*east_north(a, b))
    return away <= JUMP_SLACK_M + fastest_ms * max(0.0, b_s - a_s)


def _is_repeat(target: Target, fact: AisReport, at_s: float) -> bool:
    """The same report by another receiver, or one that comes after a younger one."""
    if target.placed_s is None or fact.second is None or target.second is None:
        return False
    if at_s - target.placed_s > LATE_S:
        return False
    behind = (target.second - fact.second) % 60
    if behind == 0:
        return fact.lat == target.lat and fact.lon == target.lon
    return behind <= LATE_S


def _count(target: Target, at_s: float) -> None:
    """A report was heard: the rhythm of this station, smoothed."""
    gap = at_s - target.last_s
    if target.updates and gap > 0.5:
        usual = target.interval_s
        target.interval_s = gap if usual is None else usual + 0.3 * (min(gap, 4 * usual) - usual)
    target.updates += 1
    target.last_s = at_s


def _bend(target: Target, fact: AisReport) -> None:
    """Rate of turn from two reports, for ships that do not tell one; smoothed over some."""
    before, after = target.course_deg, fact.course_deg
    placed, speed = target.placed_s, fact.speed_ms
    gap = target.last_s - target.bend_s if target.bend_s is not None else None
    target.bend_s = target.last_s
    if (
        before is None or after is None or placed is None or speed is None or gap is None
        or not 0.5 < gap <= BEND_GAP_S
        or speed < BEND_LEAST_MS
        or (target.speed_ms or 0.0) < BEND_LEAST_MS
    ):  # fmt: skip
        target.bent_deg_min = None
        return
    rate = angle_difference(after, before) / gap * 60.0
    known = target.bent_deg_min
    target.bent_deg_min = rate if known is None else known + 0.5 * (rate - known)
