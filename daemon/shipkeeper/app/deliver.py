"""Doing what the engine wants: sound first, then one transaction, then the remote outlets.

The sound waits for nothing. What is to be kept goes to the store's own thread, a batch of
effects as one transaction; answers to people are given when it is committed, so that an
acknowledgement that was confirmed survives a power cut. When the store fails, or stalls for
over two seconds, messages go out from memory and the engine is told.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable, Sequence

import msgspec

from ..store import Store, StoreFailed
from ..words.effects import Effect, Message, Reply, Send, Show, Wanted
from ..words.events import Event
from ..words.wires import LevelOutlet
from .clock import Clock, steady_s
from .control import Answer, Replies
from .health import Health
from .inbox import Inbox
from .log import log
from .outbox import EdgeWorker
from .recorder import Recorder

STALL_S = 2.0
REFRESH_S = 0.5

Batch = tuple[float, list[Effect], float]  # engine time, effects, steady time


class Levels:
    """Level outlets that are open now, and what they were last shown."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._open: dict[str, LevelOutlet] = {}
        self._wanted = Wanted(pattern="silence")
        self._show = Show(at="", watch="off", crew="aboard", alerts=(), watching=False)

    def add(self, name: str, outlet: LevelOutlet) -> None:
        with self._lock:
            self._open[name] = outlet
        outlet.show(self._wanted, self._show)

    def remove(self, name: str) -> None:
        with self._lock:
            self._open.pop(name, None)

    def show(self, wanted: Wanted | None, show: Show | None) -> None:
        """At a change, and again and again without one."""
        with self._lock:
            self._wanted = wanted or self._wanted
            self._show = show or self._show
            outlets = list(self._open.items())
        for name, outlet in outlets:
            try:
                outlet.show(self._wanted, self._show)
            except OSError as error:
                log(f"{name}: {error}")  # its own worker notices and opens it anew


class StoreKeeper:
    """The store's thread: commits batches in order, then lets the outlets and askers know."""

    def __init__(
        self,
        store: Store | None,
        inbox: Inbox,
        replies: Replies,
        health: Health,
        clock: Clock,
    ) -> None:
        self.store = store
        self.workers: dict[str, EdgeWorker] = {}
        self._inbox, self._replies, self._health, self._clock = inbox, replies, health, clock
        self._queue: queue.SimpleQueue[Batch | None] = queue.SimpleQueue()
        self._busy_since: float | None = None
        self._in_hand: list[Message] = []
        self._ok = store is not None
        self._lock = threading.Lock()

    def put(self, at_s: float, effects: list[Effect]) -> None:
        self._queue.put((at_s, effects, steady_s()))

    def run(self, stop: threading.Event) -> None:
        """Thread body; on stop everything that was put is still committed."""
        while True:
            try:
                batch = self._queue.get(timeout=1.0)
            except queue.Empty:
                batch = None
            self._health.progress("store")
            if batch is None:
                if stop.is_set():
                    return
                self._beat()
                continue
            self._commit(batch)

    def look(self) -> None:
        """From the main thread: has a commit stalled? Then its messages go from memory."""
        with self._lock:
            since, waiting = self._busy_since, self._in_hand
            if since is None or steady_s() - since < STALL_S or not waiting:
                return
            self._in_hand = []
        self._hand_out(waiting, stored=False)
        self._told(False, f"the disk has stalled for over {STALL_S:.0f} s")

    def _beat(self) -> None:
        if self.store is None:
            return
        try:
            self.store.beat(self._clock.now_s())
            self._told(True, "writes again")
        except StoreFailed as failed:
            self._told(False, str(failed))

    def _commit(self, batch: Batch) -> None:
        at_s, effects, put_s = batch
        messages = [e.message for e in effects if isinstance(e, Send)]
        with self._lock:
            self._busy_since, self._in_hand = put_s, list(messages)
        stored = False
        if self.store is not None:
            try:
                self.store.commit(effects, at_s)
                stored = True
            except StoreFailed as failed:
                self._told(False, str(failed))
        with self._lock:
            waiting, self._in_hand = self._in_hand, []
            self._busy_since = None
        if stored:
            self._told(True, "writes again")
        # A message sent from memory during a stall was stored after all: it goes out twice,
        # with one id, rather than perhaps never.
        self._hand_out(messages if stored else waiting, stored=stored)
        for effect in effects:
            if isinstance(effect, Reply):
                text = effect.text if stored or self.store is None else _not_kept(effect.text)
                self._replies.give(effect.number, Answer(effect.code, text, effect.data))

    def _hand_out(self, messages: Sequence[Message], *, stored: bool) -> None:
        by_outlet: dict[str, list[Message]] = {}
        for message in messages:
            by_outlet.setdefault(message.outlet, []).append(message)
        for name, mine in by_outlet.items():
            worker = self.workers.get(name)
            if worker is not None:
                (worker.committed if stored else worker.unstored)(mine)

    def _told(self, ok: bool, why: str) -> None:
        if ok != self._ok:
            self._ok = ok
            self._inbox.store_news(ok, why)

    @property
    def ok(self) -> bool:
        return self._ok


class Deliver:
    """The sink of the loop (app/run.py)."""

    def __init__(
        self,
        levels: Levels,
        keeper: StoreKeeper,
        recorder: Recorder | None,
        health: Health,
        status: Callable[[], dict[str, object]],
    ) -> None:
        self.levels, self.keeper = levels, keeper
        self._recorder, self._health = recorder, health
        self._status = status
        self._shown_s = 0.0

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
            elif isinstance(effect, Reply) and "own" in effect.data and "inputs" in effect.data:
                kept.append(_with(effect, self._status()))
            else:
                kept.append(effect)
        now = steady_s()
        if wanted is not None or show is not None or now - self._shown_s >= REFRESH_S:
            self._shown_s = now
            self.levels.show(wanted, show)
            self.keeper.look()
        if kept:
            self.keeper.put(event.at_s, kept)
        self._health.progress("engine")


def _with(reply: Reply, more: dict[str, object]) -> Reply:
    """A status answer with the daemon's word of itself."""
    return msgspec.structs.replace(reply, data={**reply.data, "daemon": more})


def _not_kept(text: str) -> str:
    return f"{text} (done, but the store could not keep it)"
