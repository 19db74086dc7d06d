"""The one clock: engine seconds, monotonic, read at the inbox and in the loop's wait only.

Engine seconds start out equal to UNIX time as the computer knew it and then go by the
kernel's boot-time clock, which nobody can set and which counts on while the machine sleeps.
So a GNSS or network time step in the night neither fires nor kills a timer, and after a
suspend everything is seen at once to be old. UTC is told to the engine as an event
(`utc_news`); it labels and never drives.

For demos and tests the clock can run faster (`rate`), start at another date (`starts_s`), or
go by the stamps of the feed's TAG blocks (`FeedClock`). Never on a boat.
"""

from __future__ import annotations

import ctypes
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Literal

Quality = Literal["none", "system", "synchronised"]

# No true clock is earlier than this source: a board without a battery clock starts in the past.
EARLIEST_S = datetime(2025, 6, 1, tzinfo=UTC).timestamp()
_TIME_ERROR = 5  # adjtimex(2): the clock is not synchronised
_SYNCED = Path("/run/systemd/timesync/synchronized")
_BOOT = getattr(time, "CLOCK_BOOTTIME", time.CLOCK_MONOTONIC)


def steady_s() -> float:
    """Wall seconds of the kernel's boot-time clock; for spans of real time only."""
    return time.clock_gettime(_BOOT)


class Clock:
    """Engine seconds, rounded to a millisecond, never going back."""

    follows_feed = False

    def __init__(self, *, rate: float = 1.0, starts_s: float | None = None) -> None:
        if not rate > 0:
            raise ValueError("the clock's rate must be above zero")
        self.rate = rate
        self.shifted = rate != 1.0 or starts_s is not None
        self._origin_s = steady_s()
        self._start_s = time.time() if starts_s is None else starts_s

    def now_s(self) -> float:
        """Engine seconds now."""
        return round(self._start_s + (steady_s() - self._origin_s) * self.rate, 3)

    def wait_s(self, until_s: float) -> float:
        """Real seconds to sleep until engine time `until_s`; zero when it is past."""
        return max(0.0, (until_s - self.now_s()) / self.rate)

    def late_s(self, stamp_s: float) -> float:
        """Real seconds since that stamp was given."""
        return (self.now_s() - stamp_s) / self.rate

    def hear(self, stamp_s: float) -> None:
        """A stamp was heard in the feed; the true clock takes no notice."""


class FeedClock(Clock):
    """Goes by the stamps in the feed, and at the pace of real time between them."""

    follows_feed = True

    def __init__(self, starts_s: float) -> None:
        super().__init__(starts_s=starts_s)

    def late_s(self, stamp_s: float) -> float:
        """The feed moves this clock by leaps: lateness cannot be told from it."""
        return 0.0

    def hear(self, stamp_s: float) -> None:
        """Move on to that stamp; an older one changes nothing."""
        if stamp_s > self.now_s():
            self._start_s, self._origin_s = stamp_s, steady_s()


def utc_news(clock: Clock) -> tuple[float, Quality]:
    """What the computer holds UTC to be now, and how well it knows. A shifted clock is its
    own truth: the demo's date is meant."""
    if clock.shifted:
        return clock.now_s(), "synchronised"
    utc_s = round(time.time(), 3)
    if utc_s < EARLIEST_S:
        return utc_s, "none"
    return utc_s, "synchronised" if _is_synchronised() else "system"


def _is_synchronised() -> bool:
    """What the kernel says; in a sandbox that forbids asking, what the time daemon left."""
    if _SYNCED.exists():
        return True
    try:
        room = ctypes.create_string_buffer(512)  # struct timex has 208 bytes; modes = 0: read
        state = int(ctypes.CDLL(None, use_errno=True).adjtimex(room))
    except (OSError, AttributeError):
        return False
    return 0 <= state < _TIME_ERROR
