"""The log of a night: what the report draws, sampled while a rehearsal runs.

It looks at the engine's picture every ten seconds and at what the drag rule says, and never
changes anything. Memory is bounded: a ship's track keeps a point only where she has moved.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import Any

import msgspec

from ..engine import Engine
from ..picture.targets import Target
from ..picture.watch import AnchorMark
from ..words.effects import Note
from ..words.geo import LatLon, east_north
from ..words.orders import RuleOrders
from ..words.verdict import Judgement

STEP_S = 10.0
NEAR_M = 6000.0  # ships farther off are not drawn
MOST_SHIPS = 300
MOVED_M = 15.0
SILENT_S = 10.0  # alerts.md 4.2: an input silent for this long is told of
NO_SHIPS = frozenset(("base", "aid"))
KEPT_NOTES = frozenset(("command", "watch", "crew", "gap"))


class Sample(msgspec.Struct, frozen=True):
    """The boat at one moment. None where it was not known."""

    at_s: float
    lat: float | None = None
    lon: float | None = None
    heading_deg: float | None = None
    wind_ms: float | None = None
    wind_from_deg: float | None = None
    depth_m: float | None = None  # surface to bottom where that is known, else below transducer
    nearest_m: float | None = None
    nearest: str = ""
    ships: int = 0


class Anchored(msgspec.Struct, frozen=True):
    """What the drag rule said at one moment: its verdict and the facts behind it."""

    at_s: float
    value: float | None
    limit: float | None
    holds: bool | None
    facts: dict[str, Any]


class ShipTrack(msgspec.Struct):
    """A target that came near."""

    key: str
    name: str
    points: list[tuple[float, float, float]]  # at_s, lat, lon
    nearest_m: float
    nearest_s: float
    lost: bool = False


class FeedLog(msgspec.Struct):
    """One input through the night."""

    name: str
    good: int = 0
    bad: int = 0
    unused: int = 0
    silent: list[tuple[float, float]] = []
    last_bad_why: str = ""


class WatchLog(msgspec.Struct, frozen=True):
    """The watch from one moment on."""

    at_s: float
    watch: str
    crew: str
    mark: AnchorMark | None


class NightLog:
    """See the module's first lines. One for all passages of a report."""

    def __init__(self, since_s: float = -math.inf, until_s: float = math.inf) -> None:
        self.since_s, self.until_s = since_s, until_s
        self.samples: list[Sample] = []
        self.anchored: list[Anchored] = []
        self.ships: dict[str, ShipTrack] = {}
        self.feeds: dict[str, FeedLog] = {}
        self.watches: list[WatchLog] = []
        self.notes: list[Note] = []
        self.breaks: list[tuple[float, float]] = []  # between two passages: nobody's time
        self._due_s = -math.inf
        self._drag: tuple[float, Judgement] | None = None
        self._before: dict[str, tuple[int, int, int]] = {}

    # -- called by the rehearsal -------------------------------------------------------------

    def begins(self, engine: Engine, now_s: float) -> None:
        engine.on_judged = self._judged
        self._before.clear()
        if self.samples and now_s - self.samples[-1].at_s > 3 * STEP_S:
            self.breaks.append((self.samples[-1].at_s, now_s))

    def noted(self, note: Note) -> None:
        if note.kind in KEPT_NOTES and self._inside(note.at_s):
            self.notes.append(note)

    def after(self, engine: Engine, at_s: float) -> None:
        if at_s < self._due_s or not self._inside(at_s):
            return
        self._due_s = math.floor(at_s / STEP_S) * STEP_S + STEP_S
        if self.samples and at_s - self.samples[-1].at_s > 3 * STEP_S and not self._is_break(at_s):
            for feed in self.feeds.values():  # nothing at all came in between
                _extend(feed.silent, self.samples[-1].at_s, at_s)
        self._watch(engine, at_s)
        self._boat(engine, at_s)
        self._feed(engine, at_s)
        if self._drag is not None:
            self._keep_drag(*self._drag)
            self._drag = None

    # -- inside ------------------------------------------------------------------------------

    def _inside(self, at_s: float) -> bool:
        return self.since_s <= at_s <= self.until_s

    def _is_break(self, at_s: float) -> bool:
        return bool(self.breaks) and self.samples[-1].at_s < self.breaks[-1][1] <= at_s

    def _judged(self, orders: RuleOrders, judgement: Judgement, now_s: float) -> None:
        if orders.table == "drag" and judgement.verdicts:
            self._drag = now_s, judgement

    def _keep_drag(self, at_s: float, judgement: Judgement) -> None:
        verdict = judgement.verdicts[0]
        self.anchored.append(
            Anchored(at_s, verdict.value, verdict.limit, verdict.holds, verdict.facts)
        )

    def _watch(self, engine: Engine, at_s: float) -> None:
        now = engine.watch
        last = self.watches[-1] if self.watches else None
        if last is None or (last.watch, last.crew, last.mark) != (now.watch, now.crew, now.mark):
            self.watches.append(WatchLog(at_s, now.watch, now.crew, now.mark))

    def _boat(self, engine: Engine, at_s: float) -> None:
        picture = engine.picture
        place = picture.own_place(at_s)
        wind = picture.own.wind_over_ground(at_s, at_rest=picture.watch.at_rest)
        nearest_m, nearest, ships = None, "", 0
        if place is not None:
            nearest_m, nearest, ships = self._ships(engine, place, at_s)
        self.samples.append(
            Sample(
                at_s=at_s,
                lat=None if place is None else place.lat,
                lon=None if place is None else place.lon,
                heading_deg=picture.own.heading_deg(at_s),
                wind_ms=None if wind is None else wind[0],
                wind_from_deg=None if wind is None else wind[1],
                depth_m=_water_m(engine, at_s),
                nearest_m=nearest_m,
                nearest=nearest,
                ships=ships,
            )
        )

    def _ships(self, engine: Engine, place: LatLon, at_s: float) -> tuple[float | None, str, int]:
        nearest_m, nearest, count = None, "", 0
        for target, lat, lon in _ships_near(engine, place, at_s):
            away = math.hypot(*east_north(place, LatLon(lat, lon)))
            if away > NEAR_M:
                continue
            count += 1
            if nearest_m is None or away < nearest_m:
                nearest_m, nearest = away, target.label
            self._track(target, lat, lon, away, at_s)
        return nearest_m, nearest, count

    def _track(self, target: Target, lat: float, lon: float, away: float, at_s: float) -> None:
        track = self.ships.get(target.key)
        if track is None:
            if len(self.ships) >= MOST_SHIPS:
                return
            track = ShipTrack(target.key, target.label, [], away, at_s)
            self.ships[target.key] = track
        track.name, track.lost = target.label, target.lost
        if away < track.nearest_m:
            track.nearest_m, track.nearest_s = away, at_s
        last = track.points[-1] if track.points else None
        if last is None or _moved(last, lat, lon):
            track.points.append((at_s, lat, lon))

    def _feed(self, engine: Engine, at_s: float) -> None:
        for name, health in engine.picture.inputs.by_name.items():
            feed = self.feeds.setdefault(name, FeedLog(name))
            seen = (health.good, health.bad, health.unused)
            old = self._before.get(name, (0, 0, 0))
            feed.good += seen[0] - old[0]
            feed.bad += seen[1] - old[1]
            feed.unused += seen[2] - old[2]
            self._before[name] = seen
            feed.last_bad_why = health.last_bad_why or feed.last_bad_why
            last_s = health.last_line_s if health.last_line_s is not None else health.since_s
            if at_s - last_s > SILENT_S:
                _extend(feed.silent, last_s, at_s)


def _ships_near(
    engine: Engine, place: LatLon, at_s: float
) -> Iterable[tuple[Target, float, float]]:
    for target in list(engine.picture.targets):
        if target.station in NO_SHIPS or target.lat is None:
            continue
        if target.kind == "radar" and target.partner is not None:
            continue
        where = target.place_at(at_s)
        if where is not None and abs(where.lat - place.lat) < NEAR_M / 110_000.0:
            yield target, where.lat, where.lon


def _water_m(engine: Engine, at_s: float) -> float | None:
    reading = engine.picture.own.depth.get(at_s)
    if reading is None:
        return None
    depth = reading.value
    under = engine.orders.vessel.transducer_depth_m
    if depth.offset_m is not None and depth.offset_m > 0:
        under = depth.offset_m
    return depth.below_transducer_m + (under or 0.0)


def _moved(last: tuple[float, float, float], lat: float, lon: float) -> bool:
    return math.hypot(*east_north(LatLon(last[1], last[2]), LatLon(lat, lon))) > MOVED_M


def _extend(spans: list[tuple[float, float]], from_s: float, to_s: float) -> None:
    if spans and from_s <= spans[-1][1] + STEP_S:
        spans[-1] = (spans[-1][0], to_s)
    else:
        spans.append((from_s, to_s))
