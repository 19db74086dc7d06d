"""The daemon: everything put together, started, kept going and stopped.

Order of the start: the lock, the orders, the store; the outlets open, and what an earlier run
left sounds again before any data is read; then inputs, control socket and the rest. The engine
runs on the main thread alone; all else is a supervised thread that meets it at the inbox.
"""

from __future__ import annotations

import gc
import os
import sys
import threading
import time
import traceback
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, Literal

from .. import __version__
from ..engine import Engine
from ..inputs.button import ButtonOrders, ButtonReader
from ..inputs.contact import ContactReader
from ..rules.contact import ContactOrders
from ..store import Store, StoreFailed, read_journal
from ..words.drill import THROUGH
from ..words.effects import Message, Wanted
from ..words.events import Tick
from ..words.orders import InputTable, Orders
from ..words.remembered import Remembered
from ..words.wires import Aboard
from . import paths
from .clock import Clock, utc_news
from .clocknews import tell_clock
from .control import Answer, Control, Replies
from .deliver import Deliver
from .driller import Driller
from .hangs import HangWatch
from .headers import Headers
from .health import Health, feed_watchdog
from .inbox import Inbox, LineSink
from .keeper import Keeper
from .level import LevelWorker, Presented
from .log import log
from .outbox import EdgeWorker
from .recorder import Recorder
from .run import run
from .signals import Signals
from .standing_orders import keep_copy, standing
from .startnews import tell_start
from .statefolder import Opened, Opener, held, open_store
from .supervise import Supervisor
from .systemd import Notifier

FAULT_SOUNDS_S = 3.0
ENGINE_FAILED = 70
BACK_S = 1.0  # last alive so far in the future: the clock is not that of the last run
OBEY_WITHIN_S = 10.0
UNHEARD_S = 180.0  # with a sign of life each minute it is known ashore within five minutes
MOST_ROWS = 5000  # of the journal in one answer


class Daemon:
    """One run of the watch. `again`: it ended to start afresh with new orders."""

    def __init__(self, orders_path: Path, state: Path, control: Path, clock: Clock) -> None:
        self.orders_path, self.state, self.control = orders_path, state, control
        self.clock = clock
        self.again = self.failed = False
        self.inbox = Inbox(clock)
        self.replies = Replies()
        self.health = Health()
        self.presented = Presented()
        self.supervisor = Supervisor()
        self.hangs = HangWatch(self.supervisor, self._hangs)
        self.notifier = Notifier()
        self.signals = Signals(self.inbox, orders_path)
        self.edges: dict[str, EdgeWorker] = {}
        self.recorder: Recorder | None = None
        self.driller = Driller(self.inbox, self._drill_says)

    def watch(self) -> None:
        """Keep the watch until a signal ends it. Raises BadOrders and AlreadyRuns; never for
        what happens later."""
        unattended = "INVOCATION_ID" in os.environ  # started by systemd
        with held(self.state):
            self.signals.take()
            orders, wrong_orders = standing(self.orders_path, self.state, unattended=unattended)
            opened, opener = open_store(self.state / "shipkeeper.db", paths.memory_folder())
            remembered = opened.remembered
            if self.clock.follows_feed and remembered.last_alive_s is not None:
                self.clock.hear(remembered.last_alive_s)
            self.keeper = Keeper(
                opened.store, self.clock, self.health, self.replies, self._offer,
                self.inbox.store_news, _Late(self, opener, opened.blind),
            )  # fmt: skip
            problems = [p for p in (opened.problem, *remembered.problems) if p]
            self._watch(orders, opened, problems, wrong_orders)

    def _watch(
        self, orders: Orders, opened: Opened, problems: list[str], wrong_orders: str
    ) -> None:
        remembered = opened.remembered
        now_s = self.clock.now_s()
        engine = Engine(orders, now_s)
        gap_s = _gap(remembered, now_s)
        self.recorder = self._recorder(orders, engine, remembered, now_s, gap_s)
        deliver = Deliver(
            self.clock,
            self.presented,
            self.keeper,
            self.replies,
            self.recorder,
            self.health,
            self._vitals,
        )
        self.driller.sounders = [
            table.name
            for table in orders.outlets
            if table.sort == "level" and table.reader == "person"
        ]
        self._start_outlets(orders, opened.owed)
        deliver.after(Tick(now_s), engine.restore(remembered, gap_s))
        tell_start(self.inbox, orders, remembered, problems, wrong_orders, blind=opened.blind)
        self._start_workers(orders)
        self.inbox.clock_news(*utc_news(self.clock))
        if not wrong_orders:
            keep_copy(orders, self.state)
        self.notifier.ready(f"{engine.watch.watch}, {orders.vessel.name}")
        log(f"shipkeeper {__version__} watches for {orders.vessel.name}: {engine.watch.watch}")
        # What is alive now stays so: the collector need not look at it again each time.
        gc.collect()
        gc.freeze()
        try:
            self._run(engine, deliver)
            self.again = self.signals.reload
        finally:
            self._stop()

    def _run(self, engine: Engine, deliver: Deliver) -> None:
        """The loop, to its end. An engine that raises is a bug: nothing that it holds can be
        trusted any more, so it is not asked again; a fresh one starts from the store."""
        try:
            run(engine, self.inbox, deliver)
            end_s = self.clock.now_s()
            engine.keep_rules(end_s)
            deliver.after(Tick(end_s), engine.handle(Tick(end_s)))
            if self.recorder is not None:
                self.recorder.end(end_s)
        except Exception:  # noqa: BLE001  # the supervisor of the main thread
            self.failed = True
            self._sound_fault()

    # -- parts -------------------------------------------------------------------------------

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
        chosen = orders.recorder.folder
        headers = Headers(orders, engine)
        recorder = Recorder(
            Path(chosen) if chosen else self.state / "recordings",
            headers.later,
            keep_s=orders.recorder.keep_s,
            limit_bytes=orders.recorder.limit_bytes,
        )
        recorder.begin(headers.first(remembered, now_s, gap_s))
        return recorder

    def _start_outlets(self, orders: Orders, owed: Sequence[Message]) -> None:
        """owed: of a store that can be read and not written."""
        for table in orders.outlets:
            worker: LevelWorker | EdgeWorker
            name = f"outlet {table.name}"
            if table.sort == "level" or table.shows:
                worker = LevelWorker(
                    table, paths.secret, self.presented, self.health, self.inbox.outlet_news,
                    Aboard(orders.vessel.name, self._obey, self._stuck, self._unheard),
                    self.driller.sounded,
                )  # fmt: skip
                shown = name if table.sort == "level" else f"{name} shown"
                tell = _to(self.inbox.outlet_news, table.name)
                self.supervisor.start(shown, worker.run, tell)
                self.hangs.watch(shown, worker.busy)
            if table.sort == "edge":
                worker = EdgeWorker(
                    table, paths.secret, self.clock, self.inbox.outlet_news, self._paid(table.name)
                )
                self.edges[table.name] = worker
                worker.offer([one for one in owed if one.outlet == table.name], old=True)
                if self.keeper.store is not None:
                    self._take_up_owed(self.keeper.store, table.name)
                self.supervisor.start(name, worker.run, _to(self.inbox.outlet_news, table.name))
                self.hangs.watch(name, worker.busy)

    def _start_workers(self, orders: Orders) -> None:
        for table in orders.inputs:
            self.supervisor.start(
                f"input {table.name}", self._input(table), _to(self.inbox.input_news, table.name)
            )
        for rule in orders.rules:
            if isinstance(rule, ContactOrders):
                name = f"contact {rule.name}"
                self.supervisor.start(name, self._contact(rule), _to(self.inbox.worker_news, name))
        button = orders.extra.get("button")
        if button is not None:
            told = _to(self.inbox.worker_news, "button")
            self.supervisor.start("button", self._button(button), told)
        control = Control(
            self.control, self.inbox, self.replies, {"log": self._log, "drill": self.driller.ask}
        )
        bodies: dict[str, Callable[[threading.Event], object]] = {
            "store": self.keeper.run,
            "control": control.run,
            "clock": lambda stop: tell_clock(self.clock, self.inbox.clock_news, stop),
            "hang watch": self.hangs.run,
            "watchdog": lambda stop: feed_watchdog(self.health, self.notifier, stop),
        }
        if self.recorder is not None:
            bodies["recorder"] = self.recorder.run
        for name, body in bodies.items():
            self.supervisor.start(name, body, _to(self.inbox.worker_news, name))

    def _input(self, table: InputTable) -> Callable[[threading.Event], None]:
        def body(stop: threading.Event) -> None:
            table.worker_with(paths.secret).run(LineSink(self.inbox, table.name), stop)

        return body

    def _button(self, button: ButtonOrders) -> Callable[[threading.Event], None]:
        def body(stop: threading.Event) -> None:
            ButtonReader(button).run(self.inbox, stop)

        return body

    def _contact(self, rule: ContactOrders) -> Callable[[threading.Event], None]:
        def body(stop: threading.Event) -> None:
            reader = ContactReader(rule.name, rule.chip, rule.line, rule.pull, rule.debounce_s)
            reader.run(self.inbox, stop)

        return body

    # -- what the parts need of each other ---------------------------------------------------

    def _paid(self, outlet: str) -> Callable[[Sequence[str]], None]:
        def paid(ids: Sequence[str]) -> None:
            self.driller.delivered(outlet, ids)
            self.keeper.paid(ids)

        return paid

    def _take_up_owed(self, store: Store, outlet: str) -> None:
        self.edges[outlet].offer(store.pending(outlet, limit=100_000), old=True)

    def _drill_says(self, verb: str, args: dict[str, Any], who: str) -> Answer | None:
        number = self.inbox.command(verb, args, who=who, through=THROUGH, asked=self.replies.expect)
        return self.replies.wait(number, OBEY_WITHIN_S)

    def _offer(self, outlet: str, messages: Sequence[Message]) -> None:
        self.driller.offered(outlet, messages)
        worker = self.edges.get(outlet)
        if worker is not None:
            worker.offer(messages)

    def _hangs(self, worker: str, why: str) -> None:
        self.inbox.outlet_news(worker.removeprefix("outlet ").removesuffix(" shown"), False, why)

    def _obey(
        self,
        verb: str,
        args: dict[str, Any],
        *,
        who: str,
        where: Literal["aboard", "ashore"],
        through: str,
        key: str = "",
        counter: int | None = None,
        sent_s: float | None = None,
    ) -> tuple[int, str]:
        """Obey of words.wires: a command that an outlet heard, and the engine's answer."""
        number = self.inbox.command(
            verb,
            args,
            who=who,
            where=where,
            through=through,
            key=key,
            counter=counter,
            sent_s=sent_s,
            asked=self.replies.expect,
        )
        answer = self.replies.wait(number, OBEY_WITHIN_S)
        if answer is None:
            return 1, "no answer in time; it may still be done"
        return answer.code, answer.text

    def _stuck(self) -> list[str]:
        """What keeps the watch from being a watch: no sign of life goes out then."""
        return self.health.stuck() + ([] if self.keeper.ok else ["the store"])

    def _unheard(self) -> list[str]:
        """People whom alarms do not reach: the sign of life must not say that all is well."""
        return [
            name
            for name, edge in self.edges.items()
            if edge.table.reader == "person" and edge.unheard_s() > UNHEARD_S
        ]

    def _vitals(self) -> dict[str, Any]:
        workers = self.supervisor.workers
        return {
            "version": __version__,
            "up_s": round(self.health.up_s(), 1),
            "worst_lateness_s": round(self.health.worst_lateness_s, 3),
            "waiting_events": self.inbox.waiting(),
            "dropped_lines": self.inbox.dropped,
            "recording_lost": self.recorder.lost if self.recorder is not None else 0,
            "store_ok": self.keeper.ok,
            "outbox": {name: edge.waiting() for name, edge in self.edges.items()},
            "stuck": self.health.stuck(),
            "restarts": {name: worker.deaths for name, worker in workers.items() if worker.deaths},
            "abandoned": list(self.supervisor.abandoned),
        }

    def _log(self, args: dict[str, Any]) -> Answer:
        """Rows of the journal for someone who may not read the file."""
        store = self.keeper.store
        if store is None:
            return Answer(2, "there is no store")
        kinds = [str(kind) for kind in args.get("kinds", ())]
        lines = args.get("lines")
        limit = min(lines, MOST_ROWS) if isinstance(lines, int) else MOST_ROWS
        try:
            found = read_journal(store.path, limit=limit, kinds=kinds)
            return Answer(0, "", {"rows": [(kind, line) for _, kind, line in found]})
        except StoreFailed as failed:
            return Answer(2, str(failed))

    # -- the end -----------------------------------------------------------------------------

    def _sound_fault(self) -> None:
        """The engine fell: say so by ear before the restart takes the sound away."""
        log(f"the engine failed:\n{traceback.format_exc()}")
        self.presented.present(
            Wanted(pattern="fault", lamp="flash", text="the watch itself has failed"), None
        )
        time.sleep(FAULT_SOUNDS_S)

    def _stop(self) -> None:
        self.notifier.stopping()
        # The store last: what the others still have to say is to be kept.
        self.supervisor.stop(*(name for name in self.supervisor.workers if name != "store"))
        if not self.supervisor.stop("store") and self.keeper.store is not None:
            self.keeper.store.close()


def watch(orders_path: Path, state: Path, control: Path, clock: Clock) -> int:
    """Keep the watch until a signal ends it; returns the exit code. With new orders the program
    starts afresh, in the same process. An engine that failed ends it with 70 under systemd, which
    starts it again; by hand it starts itself again, so that a fault never leaves the boat
    unwatched."""
    daemon = Daemon(orders_path, state, control, clock)
    daemon.watch()
    if daemon.failed and "INVOCATION_ID" in os.environ:
        return ENGINE_FAILED
    if daemon.again or daemon.failed:
        log("starting afresh")
        daemon.notifier.starting_afresh()
        os.execv(sys.executable, [sys.executable, *sys.orig_argv[1:]])
    return 0


class _Late:
    """Late of keeper.py."""

    def __init__(self, daemon: Daemon, opener: Opener, blind: bool) -> None:
        self._daemon, self._opener, self.blind = daemon, opener, blind

    def open(self) -> Store | None:
        return self._opener.attempt().store

    def found(self, store: Store) -> None:
        for outlet in self._daemon.edges:
            self._daemon._take_up_owed(store, outlet)

    def afresh(self) -> None:
        log("the store is there: starting afresh with what it holds")
        self._daemon.signals.reload = True
        self._daemon.inbox.close()


def _gap(remembered: Remembered, now_s: float) -> float | None:
    alive = remembered.last_alive_s
    if alive is None or alive > now_s + BACK_S:
        return None  # the computer has lost the time: for how long nobody watched, it cannot say
    return round(max(0.0, now_s - alive), 3)


def _to(tell: Callable[[str, bool, str], None], name: str) -> Callable[[bool, str], None]:
    return lambda ok, why: tell(name, ok, why)
