"""Edge outlets at work: each in a thread of its own, sending what it owes.

A message is sent until it is delivered, with growing pauses; one outlet that hangs, refuses
or drips delays no other, and one address of an outlet no other address (lane.py). These threads
never touch the store: messages are handed over when they are committed (or from memory, when the
store stalls), and what was delivered is handed back to the store's own thread, once every address
has it. So a dead disk cannot stop a push.

What came up while the link was down (or is left of an earlier run) is the backlog. When the
link comes back a person is not flooded with it: the most urgent message goes alone, the rest
as one list; everything is in the journal. What comes fresh goes ahead of it, one by one, as
fast as push services bear (app/pace.py); more than that becomes backlog too, so a flood is told
as lists and no alarm is lost. What is late begins with when it happened. No message can
block the others for ever.
"""

from __future__ import annotations

import itertools
import queue
import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from typing import cast

import msgspec

from ..words.alert import Priority
from ..words.effects import Message
from ..words.orders import OutletTable
from ..words.wires import AddressedOutlet, DeliveryFailed, EdgeOutlet, Ended, Heir, SecretReader
from .clock import Clock, steady_s
from .fold import fold, lateness
from .hangs import Busy
from .lane import Attempt, Lane, Owed

LOOK_S = 0.5
SOMEBODY_HAS_IT_S = 86_400.0
UNREADABLE_S = 5.0  # between two looks at a list of addresses that cannot be read
REMEMBERED = 500  # ids of delivered messages, so that one handed over twice goes out once

News = Callable[[str, bool, str], None]
Lists = dict[Priority, tuple[str, ...]]  # who gets what
Answer = tuple[Lane, Attempt, str, float | None]


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
        self._lanes: dict[str, Lane] = {}
        self._up: bool | None = None
        self._outlet: EdgeOutlet | None = None  # of the last run, closed when that has ended
        self._opened_s = steady_s()

    def offer(self, messages: Sequence[Message], *, old: bool = False) -> None:
        """Hand over messages; one that is owed or delivered already is taken once. `old`:
        from an earlier run."""
        handed_s = None if old else steady_s()
        with self._lock:
            for message in messages:
                if message.id not in self._owed and message.id not in self._done:
                    self._owed[message.id] = Owed(next(self._numbers), message, handed_s, old)
                    for lane in self._lanes.values():
                        lane.offered(message.id)
        self._wake.set()

    def waiting(self) -> int:
        with self._lock:
            return len(self._owed)

    def unheard_s(self) -> float:
        """For how long the oldest message has waited that nobody at all has got."""
        with self._lock:
            waiting = [o for o in self._owed.values() if not o.got]
        since_s = [self._opened_s if o.handed_s is None else o.handed_s for o in waiting]
        return steady_s() - min(since_s) if since_s else 0.0

    def run(self, stop: threading.Event) -> None:
        """Raises when the outlet cannot be opened; the supervisor tries again."""
        with self.busy:
            opened = cast("EdgeOutlet", self.table.open(self._secret))  # sort says which
            if isinstance(opened, Heir) and self._outlet is not None:
                opened.follow(self._outlet)
            self._outlet = opened
        outlet = opened if isinstance(opened, AddressedOutlet) else _Single(opened)
        answers: queue.SimpleQueue[Answer] = queue.SimpleQueue()
        with self._lock:
            for lane in self._lanes.values():
                lane.under_way = None  # of a thread that was left behind
        try:
            while not stop.is_set():
                self._wake.clear()
                wait_s = self._round(outlet, answers)
                if wait_s > 0:
                    self._wake.wait(min(wait_s, LOOK_S))
        finally:
            with self.busy:
                opened.close()

    # -- one round: answers in, letters out ----------------------------------------------------

    def _round(self, outlet: AddressedOutlet, answers: queue.SimpleQueue[Answer]) -> float:
        """Seconds until the next is due."""
        with self._lock:
            owed = list(self._owed.values())
        if not owed:
            return LOOK_S
        try:
            with self.busy:
                lists: Lists = {
                    priority: tuple(outlet.addresses(priority))
                    for priority in {o.message.priority for o in owed}
                }
        except DeliveryFailed as failed:
            for one in owed:
                one.backlog = True
            self._told(False, str(failed))
            return UNREADABLE_S
        self._let_go(owed)
        lanes = self._lanes_of(lists)
        moved = self._take(answers, lists)
        for lane in lanes:
            moved |= self._step(outlet, lane, lists, answers)
        moved |= self._take(answers, lists)
        self._tell(outlet, lanes)
        now_s = steady_s()
        return 0.0 if moved else min(lane.waits_s(now_s) or LOOK_S for lane in lanes)

    def _let_go(self, owed: Sequence[Owed]) -> None:
        """What somebody there has had for a day is not kept for a phone that is gone for good."""
        edge_s = steady_s() - SOMEBODY_HAS_IT_S
        since_s = self._opened_s
        old = [o for o in owed if o.got and (o.handed_s or since_s) < edge_s]
        if old:
            self._pay(old)

    def _lanes_of(self, lists: Lists) -> list[Lane]:
        addresses = dict.fromkeys(itertools.chain(*lists.values()))
        with self._lock:
            for address in addresses:
                if address not in self._lanes:
                    self._lanes[address] = Lane(address, person=self.table.reader == "person")
            return [self._lanes[address] for address in addresses]

    def _step(
        self,
        outlet: AddressedOutlet,
        lane: Lane,
        lists: Lists,
        answers: queue.SimpleQueue[Answer],
    ) -> bool:
        """Whether something was begun or given up."""
        now_s = steady_s()
        mine = self._of(lane, lists)
        if lane.under_way is not None:
            if now_s < lane.under_way.until_s:
                return False
            lane.failed("no answer in time", None, mine, now_s)
            return True
        if not mine or lane.waits_s(now_s) > 0:
            return False
        due = lane.due(mine)
        if not due:
            return False
        attempt = Attempt(due, now_s + outlet.within_s)
        lane.begun(attempt)
        with self.busy:
            begun = outlet.begin(
                lane.address, self._letter(due), self._ended(answers, lane, attempt)
            )
        if not begun:
            lane.failed("earlier tries hang still", None, mine, steady_s())
        return True

    def _ended(self, answers: queue.SimpleQueue[Answer], lane: Lane, attempt: Attempt) -> Ended:
        def ended(why: str, again_s: float | None = None) -> None:
            answers.put((lane, attempt, why, again_s))
            self._wake.set()

        return ended

    def _take(self, answers: queue.SimpleQueue[Answer], lists: Lists) -> bool:
        """What the tries came to. One that is taken after nobody waited any more counts too."""
        took = False
        while not answers.empty():
            lane, attempt, why, again_s = answers.get()
            took = True
            if not why:
                person = self.table.reader == "person"
                lane.went(attempt, len(self._of(lane, lists)) if person else 0)
                self._settle(attempt.due, lists)
            elif attempt is lane.under_way:
                lane.failed(why, again_s, self._of(lane, lists), steady_s())
        return took

    def _of(self, lane: Lane, lists: Lists) -> list[Owed]:
        """What this address is still owed."""
        with self._lock:
            return [
                owed
                for owed in self._owed.values()
                if lane.address not in owed.got
                and lane.address in lists.get(owed.message.priority, ())
            ]

    def _settle(self, due: Sequence[Owed], lists: Lists) -> None:
        """Those that everybody has are owed no longer."""
        self._pay([o for o in due if o.got.issuperset(lists.get(o.message.priority, ("",)))])

    def _pay(self, done: Sequence[Owed]) -> None:
        ids = [owed.message.id for owed in done]
        with self._lock:
            ids = [message_id for message_id in ids if self._owed.pop(message_id, None)]
            self._done.update(dict.fromkeys(ids))
            while len(self._done) > REMEMBERED:
                self._done.popitem(last=False)
        for lane in self._lanes.values():
            lane.forget(ids)
        if ids:
            self._paid(ids)

    # -- words ---------------------------------------------------------------------------------

    def _letter(self, due: list[Owed]) -> Message:
        """One message, begun with when it happened if it is late, or many as one."""
        if len(due) > 1:
            return fold([owed.message for owed in due], max(map(self._late_s, due)))
        message = due[0].message
        if self.table.reader == "machine":
            return message
        return msgspec.structs.replace(message, text=lateness(message, self._late_s(due[0])))

    def _late_s(self, owed: Owed) -> float:
        """Seconds since it happened."""
        if owed.handed_s is None:
            return self._clock.now_s() - owed.message.at_s
        return steady_s() - owed.handed_s

    def _tell(self, outlet: AddressedOutlet, lanes: Sequence[Lane]) -> None:
        """The outlet works as long as none of its addresses fails."""
        down = [
            f"{outlet.named(n)}{lane.why}" for n, lane in enumerate(lanes, 1) if lane.up is False
        ]
        if down:
            self._told(False, "; ".join(down))
        elif all(lane.up for lane in lanes):
            self._told(True, "delivers")

    def _told(self, up: bool, why: str) -> None:
        if up != self._up:
            self._up = up
            self._news(self.table.name, up, why)


class _Single:
    """An outlet with one address, whose delivery is waited for."""

    within_s = float("inf")

    def __init__(self, outlet: EdgeOutlet) -> None:
        self._outlet = outlet

    def addresses(self, priority: Priority) -> Sequence[str]:
        return ("",)

    def named(self, number: int) -> str:
        return ""

    def begin(self, address: str, message: Message, ended: Ended) -> bool:
        try:
            self._outlet.deliver(message)
        except DeliveryFailed as failed:
            ended(str(failed), failed.again_s)
        else:
            ended("")
        return True
