"""The health of every input: what it brings, since when it is silent, how often it errs.

Here facts are counted; rules/feed_faults.py judges them. Silence, a frozen clock, time going
back, implausible fixes and a high error rate are all kept apart, so that the alert can name
the cause.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Mapping

from .ais_ear import AisEar
from .receiver_clock import ReceiverClock, ReceiverDate

ERROR_WINDOW_S = 60.0
BUCKET_S = 5.0
GARBLED_SHARE = 0.5  # more than half of the sentences with a wrong checksum: as good as lost
GARBLED_WITHIN_S = 20.0
GARBLED_LEAST = 20  # of at least so many; both ours
MOST_KINDS = 64  # sentence types counted by name; what is more is garbage, or 'other'
MOST_SPEAKERS = 32
OTHER = "other"


class InputHealth:
    """Counters and stamps of one input."""

    __slots__ = (
        "_bucket_ends_s",
        "_buckets",
        "_clocks",
        "_speaker",
        "_spoiled",
        "bad",
        "date",
        "down_why",
        "ear",
        "good",
        "kinds",
        "last_bad_why",
        "last_good_s",
        "last_line_s",
        "last_what",
        "name",
        "since_s",
        "stuck",
        "unused",
        "up",
        "withheld",
        "woken",
    )

    def __init__(self, name: str, now_s: float) -> None:
        self.name = name
        self.since_s = now_s  # listened to since then: the start, or the end of a gap
        self.woken = False  # nothing good heard since a gap in which nobody listened
        self.up: bool | None = None  # None: no news yet
        self.down_why = ""
        self.good = 0
        self.unused = 0
        self.bad = 0
        self.last_line_s: float | None = None
        self.last_good_s: float | None = None
        self.last_bad_why = ""
        self.kinds: dict[str, int] = {}  # sentence type -> count
        self.last_what: dict[str, float] = {}  # 'position', 'heading', ... -> stamp
        self.withheld = ""  # why its fixes are not believed now; '' when they are
        self.ear = AisEar()
        self.date = ReceiverDate()
        self.stuck: dict[str, float] = {}  # what it repeats without end -> since when (stuck.py)
        self._speaker = ("", "")  # talker and kind of the last sentence
        self._clocks: dict[tuple[str, str], ReceiverClock] = {}
        self._buckets: deque[list[float]] = deque()  # start, good, bad, of these wrong checksums
        self._bucket_ends_s = -math.inf  # the last bucket takes what comes before
        self._spoiled = 0  # wrong checksums in all buckets

    def heard(self, verdict: str, kind: str, why: str, at_s: float, talker: str = "") -> None:
        """Count one line: verdict, kind, why and talker as feed.decode gives them."""
        self.last_line_s = at_s
        bucket = self._buckets[-1] if at_s < self._bucket_ends_s else self._bucket(at_s)
        if verdict == "bad":
            self.bad += 1
            self.last_bad_why = why
            bucket[2] += 1
            if why == "wrong checksum":
                bucket[3] += 1
                self._spoiled += 1
            return
        bucket[1] += 1
        self.last_good_s = at_s
        self.woken = False
        self._speaker = (talker, kind)
        kinds = self.kinds
        if kind in kinds:
            kinds[kind] += 1
        else:
            known = kind if len(kinds) < MOST_KINDS else OTHER
            kinds[known] = kinds.get(known, 0) + 1
        self.ear.hear(kind, talker, at_s)
        if verdict == "unused":
            self.unused += 1
            return
        self.good += 1
        if verdict == "duplicate":  # heard here too, a moment after another receiver
            self.last_what["ais"] = at_s

    def clock(self, second_of_day: float, at_s: float) -> None:
        """The time of the sentence that was heard last came in."""
        clock = self._clocks.get(self._speaker)
        if clock is None:
            if len(self._clocks) >= MOST_SPEAKERS:
                return
            clock = self._clocks[self._speaker] = ReceiverClock()
        clock.hear(second_of_day, at_s)

    def clock_fault(self, now_s: float) -> str:
        """What is wrong with the time of whoever spoke last; '' when nothing is."""
        clock = self._clocks.get(self._speaker)
        return "" if clock is None else clock.fault(now_s)

    @property
    def speaker(self) -> tuple[str, str]:
        """Talker and kind of the sentence that was heard last."""
        return self._speaker

    def error_rate(self, now_s: float) -> tuple[float, int]:
        """(share of bad lines, lines) over the last minute."""
        self._bucket(now_s)
        good, bad = (sum(bucket[i] for bucket in self._buckets) for i in (1, 2))
        total = good + bad
        return (bad / total if total else 0.0), round(total)

    def is_garbled(self, now_s: float) -> bool:
        """Most of its sentences are damaged on the way: one in 256 of those passes as sound."""
        if not self._spoiled:
            return False  # as nearly always
        self._bucket(now_s)
        good = spoiled = 0.0
        edge_s = now_s - GARBLED_WITHIN_S
        for bucket in self._buckets:  # asked at every fact: no generators here
            if bucket[0] >= edge_s:
                good += bucket[1]
                spoiled += bucket[3]
        total = good + spoiled
        return total >= GARBLED_LEAST and spoiled > GARBLED_SHARE * total

    def wake(self, at_s: float) -> None:
        """Nobody listened up to now: what is silent is so from here."""
        self.since_s, self.woken = at_s, True
        self._clocks.clear()
        self._buckets.clear()
        self._bucket_ends_s = -math.inf
        self._spoiled = 0

    def last_s(self, stamp_s: float | None) -> float:
        """From when a silence counts: the last that was heard, not before one listened."""
        return self.since_s if stamp_s is None else max(stamp_s, self.since_s)

    def _bucket(self, at_s: float) -> list[float]:
        start = at_s // BUCKET_S * BUCKET_S
        buckets = self._buckets
        if not buckets or buckets[-1][0] < start:
            buckets.append([start, 0, 0, 0])
            self._bucket_ends_s = start + BUCKET_S
            while buckets[0][0] < at_s - ERROR_WINDOW_S:
                self._spoiled -= int(buckets.popleft()[3])
        return buckets[-1]


class Inputs:
    """All inputs by name; those of the orders from the start, others as they are heard."""

    def __init__(self, expected: Mapping[str, tuple[str, ...]], now_s: float) -> None:
        self.expected = expected
        self.by_name: dict[str, InputHealth] = {name: InputHealth(name, now_s) for name in expected}

    def of(self, name: str, now_s: float) -> InputHealth:
        health = self.by_name.get(name)
        if health is None:
            health = self.by_name[name] = InputHealth(name, now_s)
        return health

    def wake(self, at_s: float) -> None:
        for health in self.by_name.values():
            health.wake(at_s)
