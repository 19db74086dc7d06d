"""A rehearsal: the very same engine over recordings, without outlets.

The recording's stamps are the clock. Whatever a person would have been told comes out as
transitions; nobody acknowledges anything unless the recording holds that command.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, Protocol

import msgspec

from ..engine import Engine
from ..words.effects import Effect, Note, Record, Reply
from ..words.events import Command, Event, Line
from ..words.geo import LatLon
from ..words.orders import Orders
from ..words.remembered import Remembered
from .recording import Header
from .told import Told, told_of

REFUSED = 2  # the answer to a command that was not carried out


class Start(msgspec.Struct, frozen=True, kw_only=True):
    """How the rehearsed night begins when the recording does not say."""

    anchor: LatLon | None = None
    anchor_first: bool = False  # the first fix is the mark
    rode_m: float | None = None
    depth_m: float | None = None
    rise_m: float | None = None
    set_at_s: float | None = None
    watch: str | None = None

    def verb(self) -> str:
        if self.watch is not None:
            return {"moored": "moor", "berthed": "berth", "anchored": "anchor"}.get(
                self.watch, self.watch
            )
        return "anchor" if self.anchor is not None or self.anchor_first else "underway"


class Watcher(Protocol):
    """Who looks on while a rehearsal runs."""

    def begins(self, engine: Engine, now_s: float) -> None: ...

    def after(self, engine: Engine, at_s: float) -> None: ...

    def noted(self, note: Note) -> None: ...


class Rehearsal:
    """Runs one stream of events. `run` yields every transition.

    watcher: looks on and changes nothing, for who draws pictures of the night.
    """

    def __init__(
        self,
        orders: Orders,
        start: Start,
        header: Header | None = None,
        watcher: Watcher | None = None,
    ) -> None:
        self.orders = orders
        self.start = start
        self.header = header
        self.engine: Engine | None = None
        self.first_s: float | None = None
        self.last_s: float | None = None
        self.lines = 0
        self._watcher = watcher
        self._pending_start = True
        self._refused = ""

    @property
    def lon(self) -> float | None:
        """Where the boat was last known to be."""
        place = self.engine.picture.targets.own_place if self.engine is not None else None
        return None if place is None else place.lon

    @property
    def not_watched(self) -> str:
        """Why the watch asked for was never set; '' when it was."""
        if self._refused or not self._pending_start or self.first_s is None:
            return self._refused
        if self.start.set_at_s is not None and (self.last_s or 0.0) < self.start.set_at_s:
            return "the recording ends before the time at which it was to be set"
        return "no position fix, so there was no place for a mark"

    def run(self, events: Iterable[Event]) -> Iterator[Told]:
        watcher = self._watcher
        for event in events:
            if self.engine is None:
                yield from self._begin(event)
            engine = self.engine
            assert engine is not None
            if self._pending_start and self._starts_with(event):
                self._pending_start = False
                before = self._begin_watch(event)
                if before is not None:
                    yield from self._set(engine, before)
            self.last_s = event.at_s
            if type(event) is Line:
                self.lines += 1
            effects = engine.handle(event)
            if effects:
                yield from self._told(effects)
            if self._pending_start and self.start.anchor_first and self._has_fix(event):
                self._pending_start = False
                command = self._command(event.at_s, how="here")
                yield from self._set(engine, command)
            if watcher is not None:
                watcher.after(engine, event.at_s)

    def _told(self, effects: Iterable[Effect]) -> Iterator[Told]:
        for effect in effects:
            if type(effect) is Record:
                yield told_of(effect, self._leader(effect.alert.id))
            elif type(effect) is Note and self._watcher is not None:
                self._watcher.noted(effect)

    def _set(self, engine: Engine, command: Command) -> Iterator[Told]:
        effects = engine.handle(command)
        refused = (e.text for e in effects if type(e) is Reply and e.code == REFUSED)
        self._refused = next(refused, "")
        yield from self._told(effects)

    def _leader(self, alert: str) -> str | None:
        """The alert that speaks for this one, as it is once the moment is over."""
        assert self.engine is not None
        instance = self.engine.board.desk.by_id.get(alert)
        return None if instance is None else instance.record.group

    def _begin(self, event: Event) -> Iterator[Told]:
        header = self.header
        self.first_s = event.at_s
        now_s = event.at_s if header is None else min(header.started_s, event.at_s)
        self.engine = Engine(self.orders, now_s)
        if self._watcher is not None:
            self._watcher.begins(self.engine, now_s)
        if header is None:
            return
        self._pending_start = self._asked_for()
        remembered = Remembered(
            alerts=header.alerts,
            state=header.state,
            last_alive_s=header.last_alive_s,
            next_number=header.next_number,
        )
        effects = self.engine.restore(remembered, header.gap_s)
        if header.begins_run:
            yield from self._told(effects)
            return
        # In mid-watch nothing happened, only a file began: nothing is told again.
        for instance in self.engine.board.desk.by_id.values():
            instance.record.restored = False

    def _asked_for(self) -> bool:
        return self.start.anchor is not None or self.start.anchor_first or bool(self.start.watch)

    def _starts_with(self, event: Event) -> bool:
        """The watch is set before the first event, or before the first one past set_at."""
        if self.start.anchor_first:
            return False
        return self.start.set_at_s is None or event.at_s >= self.start.set_at_s

    def _begin_watch(self, event: Event) -> Command | None:
        at_s = event.at_s if self.start.set_at_s is None else self.start.set_at_s
        if self.first_s is not None:
            at_s = max(at_s, self.first_s)
        return self._command(at_s, how="at")

    def _command(self, at_s: float, how: str) -> Command:
        start = self.start
        args: dict[str, Any] = {"how": how}
        if start.anchor is not None:
            args |= {"lat": start.anchor.lat, "lon": start.anchor.lon}
        for key in ("rode_m", "depth_m", "rise_m"):
            value = getattr(start, key)
            if value is not None:
                args[key] = value
        return Command(at_s, number=0, verb=start.verb(), args=args, who="rehearsal")

    def _has_fix(self, event: Event) -> bool:
        assert self.engine is not None
        if self.start.set_at_s is not None and event.at_s < self.start.set_at_s:
            return False
        return self.engine.picture.own_place(event.at_s) is not None
