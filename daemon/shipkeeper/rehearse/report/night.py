"""All that the report tells of, gathered once: log, transitions, occurrences, figures."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import Any

from ...words.geo import LatLon
from ...words.orders import Orders
from ..load import load_figures, unknown_spans
from ..nightlog import Anchored, NightLog, WatchLog
from ..occurrences import ACTIVE, Occurrence, occurrences
from ..told import Outcome, Told

Span = tuple[float, float]


class Stretch:
    """One alert in one state, from one moment to another."""

    __slots__ = ("from_s", "priority", "state", "to_s")

    def __init__(self, from_s: float, to_s: float, state: str, priority: str) -> None:
        self.from_s, self.to_s, self.state, self.priority = from_s, to_s, state, priority


class Night:
    """Built from what the rehearsal gave; reads nothing and decides nothing."""

    def __init__(self, orders: Orders, log: NightLog, outcomes: Sequence[Outcome]) -> None:
        self.orders, self.log = orders, log
        self.outcomes = [_cut(o, log.since_s, log.until_s) for o in outcomes]
        self.first_s = log.samples[0].at_s if log.samples else self.outcomes[0].first_s
        self.last_s = log.samples[-1].at_s if log.samples else self.outcomes[-1].last_s
        self.told = [t for o in self.outcomes for t in o.told]
        self.figures: dict[str, Any] = load_figures(self.outcomes, orders)

    @cached_property
    def found(self) -> list[Occurrence]:
        return [one for o in self.outcomes for one in occurrences(o.told)]

    @cached_property
    def announced(self) -> list[Occurrence]:
        return [one for one in self.found if one.announced]

    @cached_property
    def stretches(self) -> dict[str, list[Stretch]]:
        """Each alert's states, but normal, in order of its first."""
        found: dict[str, list[Stretch]] = {}
        for outcome in self.outcomes:
            standing: dict[str, Stretch] = {}
            for one in outcome.told:
                line = one.transition
                before = standing.pop(line.alert, None)
                if before is not None:
                    before.to_s = one.at_s
                    if (before.state, before.priority) == (line.to, line.priority):
                        standing[line.alert] = before  # louder or told again, but the same
                        before.to_s = outcome.last_s
                        continue
                if line.to != "normal":
                    stretch = Stretch(one.at_s, outcome.last_s, line.to, line.priority)
                    standing[line.alert] = stretch
                    found.setdefault(line.alert, []).append(stretch)
        return found

    @cached_property
    def answers(self) -> dict[tuple[str, float], str]:
        """(alert, moment) -> who acknowledged it."""
        said = {}
        for note in self.log.notes:
            if note.kind == "command" and note.data.get("verb") == "ack":
                said[(str(note.data.get("args", {}).get("id", "")), note.at_s)] = str(
                    note.data.get("who", "")
                )
        return said

    def answered_by(self, one: Occurrence) -> str:
        who = self.answers.get((one.alert, one.acknowledged_s or 0.0), "")
        return who or next(
            (w for (_, at_s), w in self.answers.items() if at_s == one.acknowledged_s), ""
        )

    @cached_property
    def no_position(self) -> list[Span]:
        """When it was not known where the boat was."""
        spans: list[Span] = []
        since = None
        for sample in self.log.samples:
            if sample.lat is None and since is None:
                since = sample.at_s
            elif sample.lat is not None and since is not None:
                spans.append((since, sample.at_s))
                since = None
        if since is not None:
            spans.append((since, self.last_s))
        return spans

    @cached_property
    def unknown(self) -> dict[str, list[Span]]:
        found: dict[str, list[Span]] = {}
        for outcome in self.outcomes:
            for alert, spans in unknown_spans(outcome.told, outcome.last_s).items():
                found.setdefault(alert, []).extend(spans)
        return found

    @cached_property
    def watch(self) -> WatchLog | None:
        """The watch that stood for the longest time."""
        spans: dict[int, float] = {}
        watches = self.log.watches
        for i, one in enumerate(watches):
            ends = watches[i + 1].at_s if i + 1 < len(watches) else self.last_s
            spans[i] = ends - one.at_s
        return watches[max(spans, key=lambda i: spans[i])] if spans else None

    @cached_property
    def mark(self) -> LatLon | None:
        """Where the anchor, mooring or berth was last held to be."""
        marks = [w.mark for w in self.log.watches if w.mark is not None]
        return marks[-1].place if marks else None

    @cached_property
    def places(self) -> list[tuple[float, float, float]]:
        return [
            (s.at_s, s.lat, s.lon)
            for s in self.log.samples
            if s.lat is not None and s.lon is not None
        ]

    @cached_property
    def centre(self) -> LatLon | None:
        """The mark, else the middle of where the boat was."""
        if self.mark is not None:
            return self.mark
        if not self.places:
            return None
        lats, lons = sorted(p[1] for p in self.places), sorted(p[2] for p in self.places)
        return LatLon(lats[len(lats) // 2], lons[len(lons) // 2])

    @cached_property
    def held(self) -> Anchored | None:
        """What the drag rule knew of the anchor last before it raised, else at the end."""
        quiet = [a for a in self.log.anchored if not a.holds]
        return quiet[-1] if quiet else self.log.anchored[-1] if self.log.anchored else None

    @cached_property
    def drags(self) -> list[Span]:
        """When an alert of the drag rule was active."""
        tables = {rule.name: rule.table for rule in self.orders.rules}
        return [
            (one.raised_s, one.cleared_s if one.cleared_s is not None else self.last_s)
            for one in self.announced
            if tables.get(one.rule) == "drag"
        ]

    @property
    def lever_m(self) -> float:
        """From bow to antenna (m); where that is not given, as the drag rule takes it."""
        antenna, length = self.orders.vessel.antenna, self.orders.vessel.length_m
        return antenna.from_bow_m if antenna is not None else 0.8 * length


def is_active(state: str) -> bool:
    return state in ACTIVE


def _cut(outcome: Outcome, since_s: float, until_s: float) -> Outcome:
    """Only what is told of in the time asked for."""
    told: tuple[Told, ...] = tuple(t for t in outcome.told if since_s <= t.at_s <= until_s)
    first_s, last_s = max(outcome.first_s, since_s), min(outcome.last_s, until_s)
    return Outcome(told, first_s, max(first_s, last_s), outcome.lines, outcome.lon, outcome.torn)
