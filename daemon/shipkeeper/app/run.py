"""The loop: events from a source, through the engine, effects to a sink. The whole of it.

Live, the source is the inbox and the sink delivers; in a rehearsal the source is a recording
and the sink writes down. Nothing else differs, so there is no replay mode in the core.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from ..words.effects import Effect
from ..words.events import Event


class Core(Protocol):
    """The engine, as the loop sees it."""

    def handle(self, event: Event) -> list[Effect]: ...

    def next_deadline(self) -> float | None: ...


class Source(Protocol):
    """Where events come from."""

    def next(self, deadline_s: float | None) -> Event | None:
        """The next event, waiting for it no longer than to engine time `deadline_s` (then a
        Tick); None when there are no more."""


class Sink(Protocol):
    """Where events and what the engine made of them go."""

    def before(self, event: Event) -> None:
        """The engine is about to be given this event."""

    def after(self, event: Event, effects: list[Effect]) -> None:
        """The engine wants these done, in this order."""


def run(core: Core, source: Source, sink: Sink) -> None:
    """Until the source has no more."""
    while (event := source.next(core.next_deadline())) is not None:
        sink.before(event)
        sink.after(event, core.handle(event))


class Replay:
    """A recording's events as a source: its stamps are the clock, so nothing waits."""

    def __init__(self, events: Iterable[Event]) -> None:
        self._events = iter(events)

    def next(self, deadline_s: float | None) -> Event | None:
        return next(self._events, None)
