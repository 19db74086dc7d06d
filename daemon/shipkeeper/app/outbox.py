"""Edge outlets at work: each in a thread of its own, sending what the outbox owes it.

A message is sent until it is delivered, with growing pauses; one outlet that hangs or refuses
delays no other. When the link comes back after a while, a person is not flooded: the most
urgent message goes alone, the rest as one list, everything stays in the journal. What is late
begins with when it happened. If the store is out of order, messages come by memory instead.
"""

from __future__ import annotations

import random
import threading
from collections.abc import Callable, Sequence

import msgspec

from ..store import Store, StoreFailed
from ..words.effects import Message
from ..words.orders import OutletTable
from ..words.wires import DeliveryFailed, EdgeOutlet, SecretReader
from .clock import Clock, steady_s
from .log import log

LATE_AFTER_S = 60.0
FIRST_PAUSE_S, MOST_PAUSE_S = 1.0, 60.0
LOOK_EVERY_S = 5.0
ALONE = 3  # so many waiting messages go one by one; more are folded
LISTED = 20

News = Callable[[str, bool, str], None]


class EdgeWorker:
    """One edge outlet: what it owes, and the thread body that pays it."""

    def __init__(
        self,
        table: OutletTable,
        store: Callable[[], Store | None],
        secret: SecretReader,
        clock: Clock,
        news: News,
    ) -> None:
        self.table = table
        self._store, self._secret, self._clock, self._news = store, secret, clock, news
        self._wake = threading.Event()
        self._lock = threading.Lock()
        self._memory: list[Message] = []
        self._seen: dict[str, float] = {}  # message -> steady time when it was handed over
        self._down = False

    def committed(self, messages: Sequence[Message]) -> None:
        """They are in the store: go and fetch them."""
        now = steady_s()
        with self._lock:
            for message in messages:
                self._seen[message.id] = now
        self._wake.set()

    def unstored(self, messages: Sequence[Message]) -> None:
        """The store could not take them: send from memory."""
        with self._lock:
            self._memory += messages
            for message in messages:
                self._seen[message.id] = steady_s()
        self._wake.set()

    def run(self, stop: threading.Event) -> None:
        """Thread body. Raises when the outlet cannot be opened; the supervisor tries again."""
        outlet: EdgeOutlet = self.table.open(self._secret)  # type: ignore[attr-defined]  # kinds have open()
        pause_s = FIRST_PAUSE_S
        try:
            while not stop.is_set():
                owed = self._owed()
                if not owed:
                    self._wake.wait(LOOK_EVERY_S if not stop.is_set() else 0)
                    self._wake.clear()
                    continue
                try:
                    self._pay(outlet, owed)
                except DeliveryFailed as failed:
                    self._told_down(str(failed), owed[0])
                    stop.wait(pause_s * random.uniform(0.8, 1.2))
                    pause_s = min(pause_s * 2, MOST_PAUSE_S)
                    continue
                pause_s = FIRST_PAUSE_S
                self._told_up()
        finally:
            outlet.close()

    def wake(self) -> None:
        self._wake.set()

    def _owed(self) -> list[Message]:
        with self._lock:
            owed = list(self._memory)
        store = self._store()
        if store is not None:
            try:
                owed += store.pending(self.table.name, 500)
            except StoreFailed as failed:
                log(f"outbox of {self.table.name}: {failed}")
        return owed

    def _pay(self, outlet: EdgeOutlet, owed: list[Message]) -> None:
        """Send what is owed. Folding is for people; a log is told everything."""
        if self.table.reader == "machine" or len(owed) <= ALONE:
            for message in owed:
                outlet.deliver(self._dated(message))
                self._paid([message])
            return
        first = max(owed, key=lambda m: (m.event != "cleared", m.priority, m.at_s))
        outlet.deliver(self._dated(first))
        self._paid([first])
        rest = [message for message in owed if message is not first]
        outlet.deliver(self._dated(fold(rest)))
        self._paid(rest)

    def _paid(self, messages: Sequence[Message]) -> None:
        ids = {message.id for message in messages}
        with self._lock:
            self._memory = [m for m in self._memory if m.id not in ids]
            for i in ids:
                self._seen.pop(i, None)
        store = self._store()
        if store is not None:
            try:
                store.delivered(sorted(ids))
            except StoreFailed as failed:
                # It will be sent once more after a restart: better twice than never.
                log(f"outbox of {self.table.name}: {failed}")

    def _dated(self, message: Message) -> Message:
        """Begin a late one with when it happened."""
        seen = self._seen.get(message.id)
        now_s, since_s = self._clock.now_s(), message.at_s
        late_s = now_s - since_s if seen is None else steady_s() - seen
        if late_s <= LATE_AFTER_S or self.table.reader == "machine":
            return message
        lead = f"LATE: happened at {message.at[11:16]} UTC, {late_s / 60:.0f} min ago. "
        return msgspec.structs.replace(message, text=lead + message.text)

    def _told_down(self, why: str, message: Message) -> None:
        store = self._store()
        if store is not None:
            try:
                store.failed(message.id, why)
            except StoreFailed:
                log(f"outbox of {self.table.name}: a failed try could not be noted")
        if not self._down:
            self._down = True
            self._news(self.table.name, False, why)

    def _told_up(self) -> None:
        if self._down:
            self._down = False
            self._news(self.table.name, True, "delivers again")


def fold(messages: Sequence[Message]) -> Message:
    """One message for many: each with its time and first line, the last twenty in full."""
    last = messages[-1]
    lines = [f"{m.at[11:16]} {m.event}: {m.title}: {m.line}" for m in messages[-LISTED:]]
    more = len(messages) - len(lines)
    if more > 0:
        lines.insert(0, f"{more} earlier ones are in the journal")
    return msgspec.structs.replace(
        last,
        priority=max(m.priority for m in messages),
        title=f"{len(messages)} MESSAGES"[:16],
        line=f"{len(messages)} messages that had to wait",
        text="These had to wait:\n" + "\n".join(lines),
    )
