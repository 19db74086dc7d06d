"""The store's thread: what is to be kept, committed in order, a batch of effects never torn.

All batches that wait are one transaction, so a slow card is written less often, not later.
What the store could not take is kept in memory and tried again, the newest state of each
alert with it, so that a disk that was full for an hour leaves no hole.

Messages and answers of a batch are handed on when it is committed: an acknowledgement that
was confirmed survives a power cut. When the store fails, or has not committed within two
seconds, they are handed on all the same, and the engine is told.

A store that could not be opened at the start is tried again and again; then all that waited goes
into it. When nothing of it could be read before, and nobody has set a watch since, what it holds
is the watch: then `afresh` starts the program anew, to take it up.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Callable, Sequence
from typing import Protocol

import msgspec

from ..store import Store, StoreFailed
from ..words.effects import Effect, Keep, Message, Remember, Reply, Send
from .clock import Clock, steady_s
from .control import Answer, Replies
from .health import Health

STALL_S = 2.0
RETRY_S = 5.0
LOOK_S = 1.0
MOST_HELD = 20_000  # effects in memory for a store that does not work


class Batch(msgspec.Struct):
    """Effects of one event; `handed_on` once its messages and answers are out."""

    at_s: float
    effects: list[Effect]
    put_s: float
    handed_on: bool = False


class Late(Protocol):
    """How a store that was not there at the start is come by."""

    blind: bool  # nothing of it could be read

    def open(self) -> Store | None:
        """None: not yet."""

    def found(self, store: Store) -> None:
        """It is there, and holds what waited."""

    def afresh(self) -> None:
        """Start the program anew."""


class Keeper:
    """`put`, `paid` and `look` from any thread; `run` is the body of the store's own."""

    def __init__(
        self,
        store: Store | None,
        clock: Clock,
        health: Health,
        replies: Replies,
        offer: Callable[[str, Sequence[Message]], None],
        tell: Callable[[bool, str], None],
        late: Late | None = None,
    ) -> None:
        self.store = store
        self.ok = store is not None
        self._clock, self._health, self._replies = clock, health, replies
        self._offer, self._tell = offer, tell
        self._lock = threading.Lock()
        self._wake = threading.Event()
        self._queue: deque[Batch] = deque()  # the first `_in_hand` of them are being committed
        self._paid_ids: list[str] = []
        self._held: list[Effect] = []
        self._known_problems = 0 if store is None else len(store.problems)
        self._late, self._open_s = late, 0.0
        self._forgetful = False  # what this run remembers must not stand over what it never saw

    def put(self, at_s: float, effects: list[Effect]) -> None:
        with self._lock:
            self._queue.append(Batch(at_s, effects, steady_s()))
        self._wake.set()

    def paid(self, ids: Sequence[str]) -> None:
        """These messages are delivered: the outbox owes them no longer."""
        with self._lock:
            self._paid_ids += ids
        self._wake.set()

    def look(self) -> None:
        """Called once a second by the main thread: has the store stalled?"""
        now_s = steady_s()
        with self._lock:
            late = [b for b in self._queue if not b.handed_on and now_s - b.put_s >= STALL_S]
            for batch in late:
                batch.handed_on = True
        if late:
            self._told(False, f"nothing could be written for over {STALL_S:.0f} s")
            for batch in late:
                self._hand_on(batch, kept=False)

    def run(self, stop: threading.Event) -> None:
        """On stop, what was put before is still committed."""
        retry_s = 0.0
        while True:
            self._wake.wait(0.0 if stop.is_set() else LOOK_S)
            self._wake.clear()
            ending = stop.is_set()
            self._progress()
            with self._lock:
                batches, ids = list(self._queue), list(self._paid_ids)
            due = bool(self._held or ids or self.store is None) and steady_s() >= retry_s
            if batches or due:
                retry_s = 0.0 if self._commit(batches, ids) else steady_s() + RETRY_S
            elif self.store is not None:
                self._beat(self.store)
            if ending and not self._queue:
                return

    # -- inside ------------------------------------------------------------------------------

    def _commit(self, batches: list[Batch], ids: list[str]) -> bool:
        effects = self._held + [effect for batch in batches for effect in batch.effects]
        kept, why = False, "there is no store"
        came = self._comes(effects)
        if self._forgetful:
            effects = [effect for effect in effects if not isinstance(effect, Remember)]
        if self.store is not None:
            try:
                # One transaction: a card that fails between two would leave rows to be doubled.
                at_s = batches[-1].at_s if batches else self._clock.now_s()
                self.store.commit(effects, at_s, ids)
                kept = True
            except StoreFailed as failed:
                why = str(failed)
        self._held = [] if kept else condensed(effects)
        with self._lock:
            for _ in batches:
                self._queue.popleft()
            del self._paid_ids[: len(ids) if kept else -MOST_HELD]
            waiting = [batch for batch in batches if not batch.handed_on]
            for batch in batches:
                batch.handed_on = True
        if self.store is not None:
            self._told(kept, "writes again" if kept else why)
            self._mended(self.store)
        for batch in waiting:
            self._hand_on(batch, kept=kept)
        if came:
            self._take_up()
        return kept

    def _comes(self, effects: Sequence[Effect]) -> bool:
        """Whether a store that was not there before is there now."""
        if self.store is not None or self._late is None or steady_s() < self._open_s:
            return False
        self._open_s = steady_s() + RETRY_S
        self.store = self._late.open()
        if self.store is None:
            return False
        watch_set = any(isinstance(e, Remember) and e.key == "watch" for e in effects)
        self._forgetful = self._late.blind and not watch_set
        return True

    def _take_up(self) -> None:
        """What the store that has come holds."""
        assert self._late is not None and self.store is not None
        if self._forgetful:
            self._late.afresh()
        else:
            self._late.found(self.store)

    def _hand_on(self, batch: Batch, *, kept: bool) -> None:
        by_outlet: dict[str, list[Message]] = {}
        for effect in batch.effects:
            if isinstance(effect, Send):
                by_outlet.setdefault(effect.message.outlet, []).append(effect.message)
            elif isinstance(effect, Reply):
                self._replies.give(effect.number, answer(effect, kept=kept))
        for outlet, messages in by_outlet.items():
            self._offer(outlet, messages)

    def _beat(self, store: Store) -> None:
        try:
            store.beat(self._clock.now_s())
        except StoreFailed as failed:
            self._told(False, str(failed))
        self._mended(store)

    def _mended(self, store: Store) -> None:
        """Damage that the store found and mended in mid-watch: the engine says all that it holds
        again, for the new file, and the caution stands, as after damage found at a start."""
        fresh, self._known_problems = store.problems[self._known_problems :], len(store.problems)
        for problem in fresh:
            self._tell(True, "mended")
            self._tell(False, problem)

    def _told(self, ok: bool, why: str) -> None:
        with self._lock:
            changed, self.ok = ok != self.ok, ok
        if changed:
            self._tell(ok, why)

    def _progress(self) -> None:
        if self.store is not None:
            self._health.progress("store")


def answer(reply: Reply, *, kept: bool) -> Answer:
    """What the person is told; code 1 at least when it was done but is not on the disk."""
    if kept:
        return Answer(reply.code, reply.text, reply.data)
    text = f"{reply.text} (done, but the store could not keep it: a restart would forget it)"
    return Answer(max(1, reply.code), text, reply.data)


def condensed(effects: Sequence[Effect]) -> list[Effect]:
    """What a store that does not work still owes: of each alert's numbers and each named
    state the newest, of all else the last 20,000."""
    newest: dict[str, int] = {}
    for index, effect in enumerate(effects):
        key = _replaces(effect)
        if key is not None:
            newest[key] = index
    found: list[Effect] = [
        effect
        for index, effect in enumerate(effects)
        if not isinstance(effect, Reply)
        and ((key := _replaces(effect)) is None or newest[key] == index)
    ]
    return found[-MOST_HELD:]


def _replaces(effect: Effect) -> str | None:
    if isinstance(effect, Keep):
        return f"alert {effect.alert.id}"
    return f"state {effect.key}" if isinstance(effect, Remember) else None
