"""The sink of the loop: does what the engine wants. The sound first; it waits for nothing.

Then the batch of what is to be kept goes to the store's thread (keeper.py), which hands on
messages and answers when they are committed. Questions are answered at once: a stalled disk
must not blind `status`. Nothing here blocks the main thread.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec

from ..words.effects import Effect, Reply, Show, Wanted
from ..words.events import Command, Event
from .clock import Clock, steady_s
from .control import Replies
from .health import Health
from .keeper import Keeper, answer
from .level import Presented
from .recorder import Recorder

REFRESH_S = 0.5


class Deliver:
    """See app/run.py for the contract; `vitals` is the daemon's own part of `status`."""

    def __init__(
        self,
        clock: Clock,
        presented: Presented,
        keeper: Keeper,
        replies: Replies,
        recorder: Recorder | None,
        health: Health,
        vitals: Callable[[], dict[str, Any]],
    ) -> None:
        self._clock, self._presented, self._keeper = clock, presented, keeper
        self._replies, self._recorder, self._health = replies, recorder, health
        self._vitals = vitals
        self._refreshed_s = 0.0

    def before(self, event: Event) -> None:
        if self._recorder is not None:
            self._recorder.take(event)

    def after(self, event: Event, effects: list[Effect]) -> None:
        wanted = show = None
        kept: list[Effect] = []
        for effect in effects:
            if isinstance(effect, Wanted):
                wanted = effect
            elif isinstance(effect, Show):
                show = effect
            else:
                kept.append(effect)
        now_s = steady_s()
        if wanted is not None or show is not None or now_s - self._refreshed_s >= REFRESH_S:
            self._refreshed_s = now_s
            self._presented.present(wanted, show)
            self._keeper.look()
            self._health.late(self._clock.late_s(event.at_s))
        if kept:
            self._keep(event, kept)
        self._health.progress("engine")

    def _keep(self, event: Event, effects: list[Effect]) -> None:
        if all(isinstance(effect, Reply) for effect in effects):
            asked = event.verb if isinstance(event, Command) else ""
            for effect in effects:
                assert isinstance(effect, Reply)
                if asked == "status":
                    effect = _with(effect, self._vitals())
                self._replies.give(effect.number, answer(effect, kept=True))
        else:
            self._keeper.put(event.at_s, effects)


def _with(reply: Reply, vitals: dict[str, Any]) -> Reply:
    """A status answer with the daemon's word of itself."""
    return msgspec.structs.replace(reply, data={**reply.data, "daemon": vitals})
