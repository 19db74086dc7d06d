"""The daemon: everything put together, started, kept going and stopped.

Order of the start: lock, orders, store, then what an earlier run left sounds again, before any
data; then outlets, inputs and the control socket. A bad reload keeps the running orders. The
engine runs on the main thread alone.
"""

from __future__ import annotations

import fcntl
import gc
import os
import signal
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import IO

import msgspec

from .. import __version__
from ..engine import Engine
from ..orders import BadOrders, load
from ..rehearse.recording import Header
from ..store import Store, StoreFailed
from ..words.effects import Note
from ..words.events import Tick
from ..words.orders import InputTable, Orders, OutletTable
from ..words.remembered import Remembered
from . import paths
from .clock import Clock, utc_news
from .control import Control, Replies
from .deliver import Deliver, Levels, StoreKeeper
from .health import Health, feed_watchdog
from .inbox import Inbox, LineSink
from .kinds import KINDS
from .log import log
from .outbox import EdgeWorker
from .recorder import Recorder
from .run import run
from .supervise import Supervisor
from .systemd import Notifier

CLOCK_NEWS_EVERY_S = 600.0
LEVEL_LOOK_S = 2.0


class AlreadyRuns(Exception):
    """Another daemon has this state folder."""


class Daemon:
    """One run. `watch` returns when a signal asked for the end; True: start again (reload)."""

    def __init__(self, orders_path: Path, state: Path, control: Path, clock: Clock) -> None:
        self.orders_path, self.state, self.control = orders_path, state, control
        self.clock = clock
        self.inbox = Inbox(clock)
        self.replies = Replies()
        self.health = Health()
        self.levels = Levels()
        self.supervisor = Supervisor()
        self.notifier = Notifier()
        self._again = False

    def watch(self) -> bool:
        """Keep the watch. Raises BadOrders, AlreadyRuns; never for what happens on the way."""
        orders = load(self.orders_path, KINDS)
        self.state.mkdir(parents=True, exist_ok=True)
        with _lock(self.state):
            store, problems = self._open_store()
            remembered = store.load() if store is not None else Remembered()
            if self.clock.follows_feed and remembered.last_alive_s is not None:
                self.clock.hear(remembered.last_alive_s)
            self._run(orders, store, remembered, [*problems, *remembered.problems])
        return self._again

    def _run(
        self, orders: Orders, store: Store | None, remembered: Remembered, problems: list[str]
    ) -> None:
        now_s = self.clock.now_s()
        engine = Engine(orders, now_s)
        gap_s = _gap(remembered, now_s)
        self.keeper = StoreKeeper(store, self.inbox, self.replies, self.health, self.clock)
        recorder = self._recorder(orders, engine, remembered, now_s, gap_s)
        deliver = Deliver(self.levels, self.keeper, recorder, self.health, self._vitals)
        self._open_outlets(orders)
        restored = engine.restore(remembered, gap_s)
        deliver.after(Tick(now_s), [*restored, *_notes(engine, problems, now_s)])
        self._start_workers(orders, recorder)
        if store is None:
            self.inbox.store_news(False, problems[0] if problems else "cannot be opened")
        self.inbox.clock_news(*utc_news(self.clock))
        self._signals()
        self.notifier.ready(f"watching: {engine.watch.watch}")
        log(f"shipkeeper {__version__} watches for {orders.vessel.name}: {engine.watch.watch}")
        # What is alive now stays so: the collector need not look at it again each time.
        gc.collect()
        gc.freeze()
        try:
            run(engine, self.inbox, deliver)
            engine.keep_rules(self.clock.now_s())
            deliver.after(Tick(self.clock.now_s()), engine.handle(Tick(self.clock.now_s())))
        finally:
            self._stop(store)

    # -- parts -------------------------------------------------------------------------------

    def _open_store(self) -> tuple[Store | None, list[str]]:
        try:
            return Store.open(self.state / "shipkeeper.db"), []
        except StoreFailed as failed:
            log(f"store: {failed}; the watch goes on without it")
            return None, [str(failed)]

    def _recorder(
        self,
        orders: Orders,
        engine: Engine,
        remembered: Remembered,
        now_s: float,
        gap_s: float | None,
    ) -> Recorder | None:
        if orders.recorder is None:
            return None
        folder = Path(orders.recorder.folder) if orders.recorder.folder else (
            self.state / "recordings"
        )  # fmt: skip

        def header(at_s: float) -> Header:
            """A file that begins in mid-watch begins from what stands then."""
            return Header(
                started_s=at_s,
                orders=orders.text,
                inputs=tuple(t.name for t in orders.inputs),
                alerts=tuple(msgspec.structs.replace(r) for r in engine.records()),
                state=engine.memory(),
            )

        recorder = Recorder(
            folder,
            header,
            keep_s=orders.recorder.keep_s,
            limit_bytes=orders.recorder.limit_bytes,
        )
        recorder.begin(
            Header(
                started_s=now_s,
                orders=orders.text,
                inputs=tuple(t.name for t in orders.inputs),
                alerts=tuple(msgspec.structs.replace(r) for r in remembered.alerts),
                state=remembered.state,
                last_alive_s=remembered.last_alive_s,
                next_number=remembered.next_number,
                gap_s=gap_s,
            )
        )
        return recorder

    def _open_outlets(self, orders: Orders) -> None:
        for table in orders.outlets:
            if table.sort == "level":
                self._start_level(table)
            else:
                worker = EdgeWorker(
                    table,
                    lambda: self.keeper.store,
                    paths.secret,
                    self.clock,
                    self.inbox.outlet_news,
                )
                self.keeper.workers[table.name] = worker

    def _start_level(self, table: OutletTable) -> None:
        name = table.name

        def body(stop: threading.Event) -> None:
            outlet = table.open(paths.secret)  # type: ignore[attr-defined]  # kinds have open()
            self.levels.add(name, outlet)
            ticks = -1
            try:
                while not stop.wait(LEVEL_LOOK_S if ticks >= 0 else 0.1):
                    if getattr(outlet, "ticks", ticks + 1) == ticks:
                        raise OSError("the sounder does not answer")
                    ticks = getattr(outlet, "ticks", ticks + 1)
                    self.health.progress("sounder")
            finally:
                self.levels.remove(name)
                self.health.forget("sounder")
                outlet.close()

        self.supervisor.start(
            f"outlet {name}", body, lambda ok, why: self.inbox.outlet_news(name, ok, why)
        )

    def _start_workers(self, orders: Orders, recorder: Recorder | None) -> None:
        start = self.supervisor.start
        start("store", self.keeper.run, _news(self.inbox.worker_news, "store"))
        for name, worker in self.keeper.workers.items():
            start(f"outlet {name}", worker.run, _news(self.inbox.outlet_news, name))
        for table in orders.inputs:
            start(f"input {table.name}", self._input(table), self._input_news(table.name))
        if recorder is not None:
            start("recorder", recorder.run, _news(self.inbox.worker_news, "recorder"))
        control = Control(self.control, self.inbox, self.replies)
        start("control", control.run, _news(self.inbox.worker_news, "control"))
        start("clock", self._clock_news, _news(self.inbox.worker_news, "clock"))
        start(
            "watchdog",
            lambda stop: feed_watchdog(self.health, self.notifier, stop),
            _news(self.inbox.worker_news, "watchdog"),
        )

    def _input(self, table: InputTable) -> Callable[[threading.Event], None]:
        def body(stop: threading.Event) -> None:
            worker = table.worker()  # type: ignore[attr-defined]  # kinds have worker()
            worker.run(LineSink(self.inbox, table.name), stop)

        return body

    def _input_news(self, name: str) -> Callable[[bool, str], None]:
        return lambda ok, why: self.inbox.input_news(name, ok, why)

    def _clock_news(self, stop: threading.Event) -> None:
        while not stop.wait(CLOCK_NEWS_EVERY_S):
            self.inbox.clock_news(*utc_news(self.clock))

    def _vitals(self) -> dict[str, object]:
        return {
            "version": __version__,
            "waiting_events": self.inbox.waiting(),
            "dropped_lines": self.inbox.dropped,
            "store_ok": self.keeper.ok,
            "stuck": self.health.stuck(),
            "restarts": {n: w.deaths for n, w in self.supervisor.workers.items() if w.deaths},
            "abandoned": list(self.supervisor.abandoned),
        }

    # -- signals and the end -------------------------------------------------------------------

    def _signals(self) -> None:
        if threading.current_thread() is not threading.main_thread():
            return
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, self._on_end)
        signal.signal(signal.SIGHUP, self._on_reload)

    def _on_end(self, number: int, frame: FrameType | None) -> None:
        threading.Thread(target=self.inbox.close, daemon=True).start()

    def _on_reload(self, number: int, frame: FrameType | None) -> None:
        threading.Thread(target=self._reload, daemon=True).start()

    def _reload(self) -> None:
        """Good new orders: start again from the store. Bad ones: told, and nothing changes."""
        try:
            load(self.orders_path, KINDS)
        except BadOrders as bad:
            log(str(bad))
            first = bad.problems[0].told(self.orders_path.name) if bad.problems else "bad"
            self.inbox.worker_news("orders", False, f"not reloaded: {first}")
            return
        self._again = True
        self.inbox.close()

    def _stop(self, store: Store | None) -> None:
        self.notifier.stopping()
        for worker in self.keeper.workers.values():
            worker.wake()
        self.supervisor.stop()
        if store is not None:
            store.close()


def watch(orders_path: Path, state: Path, control: Path, clock: Clock) -> None:
    """Keep the watch until a signal ends it; a reload starts the program afresh."""
    if Daemon(orders_path, state, control, clock).watch():
        log("orders reloaded: starting again with the new ones")
        os.execv(sys.executable, [sys.executable, *sys.orig_argv[1:]])


def _gap(remembered: Remembered, now_s: float) -> float | None:
    alive = remembered.last_alive_s
    return None if alive is None else round(max(0.0, now_s - alive), 3)


def _notes(engine: Engine, problems: list[str], now_s: float) -> list[Note]:
    return [
        Note(at_s=now_s, at=engine.label(now_s), kind="store", text=text, data={})
        for text in problems
    ]


def _news(tell: Callable[[str, bool, str], None], name: str) -> Callable[[bool, str], None]:
    return lambda ok, why: tell(name, ok, why)


class _lock:  # noqa: N801  # used as a with-word
    """One daemon a state folder, by a lock that dies with its holder."""

    def __init__(self, state: Path) -> None:
        self._path = state / "lock"
        self._file: IO[str] | None = None

    def __enter__(self) -> None:
        self._file = self._path.open("w")
        try:
            fcntl.flock(self._file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            self._file.close()
            raise AlreadyRuns(f"another shipkeeper keeps {self._path.parent}") from None

    def __exit__(self, *_: object) -> None:
        if self._file is not None:
            self._file.close()
