"""The health of every input: what it brings, since when it is silent, how often it errs.

Here facts are counted; rules/feed.py judges them. Silence, a frozen clock, time going back,
implausible fixes and a high error rate are all kept apart, so that the alert can name the
cause.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping

ERROR_WINDOW_S = 60.0


class InputHealth:
    """Counters and stamps of one input."""

    __slots__ = (
        "_bad_recent",
        "_good_recent",
        "back_at_s",
        "bad",
        "down_why",
        "first_s",
        "frozen_since_s",
        "good",
        "jump_since_s",
        "kinds",
        "last_bad_why",
        "last_clock_s",
        "last_good_s",
        "last_line_s",
        "last_what",
        "name",
        "time_back_s",
        "unused",
        "up",
    )

    def __init__(self, name: str, now_s: float) -> None:
        self.name = name
        self.first_s = now_s
        self.up: bool | None = None  # None: no news yet
        self.down_why = ""
        self.good = 0
        self.unused = 0
        self.bad = 0
        self.last_line_s: float | None = None
        self.last_good_s: float | None = None
        self.back_at_s: float | None = None  # when good data came again after a silence
        self.last_bad_why = ""
        self.kinds: dict[str, int] = {}  # sentence type -> count
        self.last_what: dict[str, float] = {}  # 'position', 'heading', ... -> stamp
        self.last_clock_s: float | None = None  # receiver's second of day
        self.frozen_since_s: float | None = None
        self.time_back_s: float | None = None  # when its time last went back
        self.jump_since_s: float | None = None  # fixes held back as implausible since
        self._good_recent: deque[float] = deque(maxlen=4096)
        self._bad_recent: deque[float] = deque(maxlen=4096)

    def heard(self, verdict: str, kind: str, why: str, at_s: float) -> None:
        """Count one line: verdict as feed.decode gives it."""
        self.last_line_s = at_s
        if verdict == "bad":
            self.bad += 1
            self.last_bad_why = why
            self._bad_recent.append(at_s)
            return
        self._good_recent.append(at_s)
        self.last_good_s = at_s
        self.kinds[kind] = self.kinds.get(kind, 0) + 1
        if verdict == "unused":
            self.unused += 1
            return
        self.good += 1
        if verdict == "duplicate":  # heard here too, a moment after another receiver
            self.last_what["ais"] = at_s

    def clock(self, second_of_day: float, at_s: float) -> None:
        """The receiver's own time came in: is it going on, standing still, going back?"""
        last = self.last_clock_s
        self.last_clock_s = second_of_day
        if last is None:
            return
        step = (second_of_day - last + 43_200.0) % 86_400.0 - 43_200.0
        if step < -0.5:
            self.time_back_s = at_s
        if step == 0.0:
            if self.frozen_since_s is None:
                self.frozen_since_s = at_s
        else:
            self.frozen_since_s = None

    def error_rate(self, now_s: float) -> tuple[float, int]:
        """(share of bad lines, lines) over the last minute."""
        edge = now_s - ERROR_WINDOW_S
        for recent in (self._good_recent, self._bad_recent):
            while recent and recent[0] < edge:
                recent.popleft()
        total = len(self._good_recent) + len(self._bad_recent)
        return (len(self._bad_recent) / total if total else 0.0), total


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
