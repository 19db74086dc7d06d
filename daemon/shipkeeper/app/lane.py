"""One address of an outlet: what it is sent next, and when. Decides only; outbox.py does it.

Each address has its own back-off, pace, backlog and word of how long its service wants to be
left alone (HTTP 429 and 503 with Retry-After), so one that is slow, full or forbidden delays no
other. Times are steady seconds.
"""

from __future__ import annotations

import random
from collections.abc import Sequence

import msgspec

from ..words.effects import Message
from .pace import Pace

FIRST_PAUSE_S, MOST_PAUSE_S = 1.0, 60.0
MOST_HELD_S = 3600.0  # whatever a service asks for, an alarm is tried once an hour
ALONE = 3  # so many waiting messages go one by one; more are folded
MANY_TRIES = 4  # of the most urgent one alone, then the list is tried


class Owed(msgspec.Struct):
    """One message that is still to be delivered to somebody."""

    number: int
    message: Message
    handed_s: float | None  # steady time; None: it comes from an earlier run
    backlog: bool  # for every address
    got: set[str] = msgspec.field(default_factory=set)  # addresses that have it


class Attempt(msgspec.Struct, eq=False):
    """One letter on its way."""

    due: list[Owed]
    until_s: float


class Lane:
    """One address; `person`: somebody reads it, who is not to be flooded."""

    def __init__(self, address: str, *, person: bool) -> None:
        self.address = address
        self.up: bool | None = None
        self.why = ""
        self.under_way: Attempt | None = None
        self._person = person
        self._backlog: set[str] = set()
        self._tries: dict[str, int] = {}
        self._one_went = False  # of the backlog, alone; the rest follows as a list
        self._pace = Pace()
        self._pause_s = 0.0  # of the last failure; 0: none
        self._not_before_s = self._free_s = float("-inf")
        self._fresh = False  # something came since the last failure

    def offered(self, message_id: str) -> None:
        """One more is owed."""
        self._fresh = True
        if self.up is False:
            self._backlog.add(message_id)

    def waits_s(self, now_s: float) -> float:
        """Seconds until it may be tried again. A new message ends the pause after a failure, but
        neither its first second nor what the service asked for."""
        edge_s = self._not_before_s if self._fresh else max(self._free_s, self._not_before_s)
        return max(0.0, edge_s - now_s)

    def due(self, owed: Sequence[Owed]) -> list[Owed]:
        """What to send next as one letter, of what this address has not got: one message, or
        the list of a backlog."""
        if not owed:
            self._one_went = False
            return []
        if not self._person:
            if not self._tries:  # in order, as long as each is taken
                return [owed[0]]
            return [min(owed, key=lambda o: (self._tried(o), o.number))]
        if not self._pace.may_send():
            # More than a service bears: what has been waiting becomes one list.
            self._backlog.update(o.message.id for o in owed)
            return []
        fresh = [o for o in owed if not self._is_backlog(o)]
        if fresh:
            return [min(fresh, key=lambda o: (self._tried(o), -o.message.priority, o.number))]
        first = max(owed, key=_urgency)
        if not self._one_went and len(owed) > ALONE:
            # One that fails for its own sake must not keep back the list.
            tries = self._tried(first)
            return list(owed) if tries and tries % MANY_TRIES == 0 else [first]
        if self._one_went:
            return list(owed)
        return [min(owed, key=lambda o: (self._tried(o), o.number))]

    def begun(self, attempt: Attempt) -> None:
        self.under_way, self._fresh = attempt, False
        for owed in attempt.due:
            self._tries[owed.message.id] = self._tried(owed) + 1
        if self._person:
            self._pace.sent()

    def went(self, attempt: Attempt, waiting: int) -> None:
        """It was taken; so many were waiting, with those in it."""
        if attempt is self.under_way:
            self.under_way = None
            self._one_went = self._is_backlog(attempt.due[0]) and waiting > ALONE
            self.up, self._pause_s = True, 0.0
            self._not_before_s = self._free_s = float("-inf")
        for owed in attempt.due:
            owed.got.add(self.address)

    def failed(self, why: str, again_s: float | None, owed: Sequence[Owed], now_s: float) -> None:
        """It was not; `again_s`: the service wants to be left alone for so long."""
        self.under_way, self.why = None, why
        self._pause_s = min(self._pause_s * 2 or FIRST_PAUSE_S, MOST_PAUSE_S)
        least_s = min(FIRST_PAUSE_S, self._pause_s)
        if again_s is not None:
            least_s = max(least_s, min(again_s, MOST_HELD_S))
        self._not_before_s = now_s + least_s
        self._free_s = now_s + self._pause_s * random.uniform(0.8, 1.2)
        self.up = False
        self._backlog.update(o.message.id for o in owed)

    def forget(self, ids: Sequence[str]) -> None:
        """Nobody is owed these any more."""
        self._backlog.difference_update(ids)
        for message_id in ids:
            self._tries.pop(message_id, None)

    def _tried(self, owed: Owed) -> int:
        return self._tries.get(owed.message.id, 0)

    def _is_backlog(self, owed: Owed) -> bool:
        return owed.backlog or owed.message.id in self._backlog


def _urgency(owed: Owed) -> tuple[bool, int, float]:
    message = owed.message
    return (message.event != "cleared", int(message.priority), message.at_s)
