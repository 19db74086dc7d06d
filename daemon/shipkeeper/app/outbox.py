"""Edge outlets at work: each in a thread of its own, sending what it owes.

A message is sent until it is delivered, with growing pauses; one outlet that hangs, refuses
or drips delays no other. These threads never touch the store: messages are handed over when
they are committed (or from memory, when the store stalls), and what was delivered is handed
back to the store's own thread. So a dead disk cannot stop a push.

What came up while the link was down (or is left of an earlier run) is the backlog. When the
link comes back a person is not flooded with it: the most urgent message goes alone, the rest
as one list; everything is in the journal. What comes fresh goes ahead of it, one by one, as
fast as push services bear (app/pace.py); more than that becomes backlog too, so a flood is told
as lists and no alarm is lost. What is late begins with when it happened. No message can
block the others for ever.
"""

from __future__ import annotations

import itertools
import random
import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from typing import cast

import msgspec

from ..words.effects import Message
from ..words.orders import OutletTable
from ..words.wires import DeliveryFailed, EdgeOutlet, SecretReader
from .clock import Clock, steady_s
from .fold import fold, lateness
from .hangs import Busy
from .pace import Pace

FIRST_PAUSE_S, MOST_PAUSE_S = 1.0, 60.0
LOOK_S = 0.5
ALONE = 3  # so many waiting messages go one by one; more are folded
MANY_TRIES = 3
REMEMBERED = 2000  # ids of delivered messages, so that one handed over twice goes out once

News = Callable[[str, bool, str], None]


class Owed(msgspec.Struct):
    """One message that is still to be delivered."""

    number: int
    message: Message
    handed_s: float | None  # steady time; None: it comes from an earlier run
    backlog: bool
    tries: int = 0


class EdgeWorker:
    """One edge outlet. `offer` from any thread; `run` is the body of its own."""

    def __init__(
        self,
        table: OutletTable,
        secret: SecretReader,
        clock: Clock,
        news: News,
        paid: Callable[[Sequence[str]], None],
    ) -> None:
        self.table, self.busy = table, Busy()
        self._secret, self._clock, self._news, self._paid = secret, clock, news, paid
        self._lock = threading.Lock()
        self._wake = threading.Event()
        self._owed: dict[str, Owed] = {}
        self._done: OrderedDict[str, None] = OrderedDict()
        self._numbers = itertools.count()
        self._up: bool | None = None
        self._one_went = False  # of the backlog, alone; the rest follows as a list
        self._pace = Pace()

    def offer(self, messages: Sequence[Message], *, old: bool = False) -> None:
        """Hand over messages; one that is owed or delivered already is taken once. `old`:
        from an earlier run."""
        handed_s = None if old else steady_s()
        with self._lock:
            for message in messages:
                if message.id not in self._owed and message.id not in self._done:
                    backlog = old or self._up is False
                    owed = Owed(next(self._numbers), message, handed_s, backlog)
                    self._owed[message.id] = owed
        self._wake.set()

    def waiting(self) -> int:
        with self._lock:
            return len(self._owed)

    def run(self, stop: threading.Event) -> None:
        """Raises when the outlet cannot be opened; the supervisor tries again."""
        with self.busy:
            outlet = cast("EdgeOutlet", self.table.open(self._secret))  # sort says which
        pause_s = FIRST_PAUSE_S
        try:
            while not stop.is_set():
                self._wake.clear()
                due = self._due()
                if not due:
                    self._wake.wait(LOOK_S)
                    continue
                try:
                    self._pay(outlet, due)
                except DeliveryFailed as failed:
                    self._told(False, str(failed))
                    self._pause(pause_s, stop)
                    pause_s = min(pause_s * 2, MOST_PAUSE_S)
                    continue
                pause_s = FIRST_PAUSE_S
                self._told(True, "delivers")
        finally:
            with self.busy:
                outlet.close()

    def _due(self) -> list[Owed]:
        """What to send next as one message: one that is owed, or the list of a backlog."""
        with self._lock:
            owed = list(self._owed.values())
        if self.table.reader == "machine":
            return [min(owed, key=lambda o: (o.tries, o.number))] if owed else []
        if not self._pace.may_send():
            if owed:
                self._too_fast(owed)
            return []
        fresh = [o for o in owed if not o.backlog]
        if fresh:
            return [min(fresh, key=lambda o: (o.tries, -o.message.priority, o.number))]
        if not owed:
            self._one_went = False
            return []
        first = max(owed, key=_urgency)
        if not self._one_went and len(owed) > ALONE:
            # One that fails for its own sake must not keep back the list.
            return owed if first.tries >= MANY_TRIES and first.tries % 2 else [first]
        return owed if self._one_went else [min(owed, key=lambda o: (o.tries, o.number))]

    def _too_fast(self, owed: list[Owed]) -> None:
        """More than a service bears: what has been waiting becomes one list."""
        with self._lock:
            for one in owed:
                one.backlog = True

    def _pay(self, outlet: EdgeOutlet, due: list[Owed]) -> None:
        for owed in due:
            owed.tries += 1
        if self.table.reader == "person":
            self._pace.sent()
        if len(due) == 1:
            letter = self._dated(due[0])
        else:
            letter = fold([owed.message for owed in due], max(map(self._late_s, due)))
        with self.busy:
            outlet.deliver(letter)
        self._one_went = due[0].backlog and self.waiting() > ALONE
        ids = [owed.message.id for owed in due]
        with self._lock:
            for message_id in ids:
                self._owed.pop(message_id, None)
                self._done[message_id] = None
            while len(self._done) > REMEMBERED:
                self._done.popitem(last=False)
        self._paid(ids)

    def _dated(self, owed: Owed) -> Message:
        """Begin a late one with when it happened."""
        message = owed.message
        if self.table.reader == "machine":
            return message
        return msgspec.structs.replace(message, text=lateness(message, self._late_s(owed)))

    def _late_s(self, owed: Owed) -> float:
        """Seconds since it happened."""
        if owed.handed_s is None:
            return self._clock.now_s() - owed.message.at_s
        return steady_s() - owed.handed_s

    def _pause(self, pause_s: float, stop: threading.Event) -> None:
        """Wait before the next try; a new message ends the wait, but not within a second."""
        edge_s = steady_s() + pause_s * random.uniform(0.8, 1.2)
        stop.wait(min(FIRST_PAUSE_S, pause_s))
        while not (stop.is_set() or self._wake.is_set()) and steady_s() < edge_s:
            self._wake.wait(LOOK_S)

    def _told(self, up: bool, why: str) -> None:
        if up != self._up:
            with self._lock:
                self._up = up
                for owed in self._owed.values() if not up else ():
                    owed.backlog = True
            self._news(self.table.name, up, why)


def _urgency(owed: Owed) -> tuple[bool, int, float]:
    message = owed.message
    return (message.event != "cleared", int(message.priority), message.at_s)
