"""Progress: whether the engine, the sounder and the store still move.

Each part reports here when it has done a round. The watchdog is fed only while all of them
did so lately, so a daemon that hangs in any of the three is restarted by systemd, and the
restart resumes what sounded. A part that is not there (no store could be opened) is not
waited for: the engine has been told, and a caution stands.
"""

from __future__ import annotations

import threading

from .clock import steady_s
from .systemd import Notifier

# Seconds without progress after which a part counts as hung. With WatchdogSec=6 a hung engine
# is gone 7.5 to 9 s after, which leaves a slow board 5 s to start in before 15 s are over. A slow
# card may hold a commit for seconds.
# There is one sounder for each buzzer of the orders: "sounder NAME".
LIMITS_S = {"engine": 3.0, "sounder": 4.0, "store": 20.0}
# Feedings in one interval of the watchdog. sd_notify(3) asks for two; with more, a shorter interval
# forgives a stall of the whole process as long.
FEEDINGS = 4


class Health:
    """Stamps of progress by part; any thread may report."""

    def __init__(self) -> None:
        self._last: dict[str, float] = {}
        self.started_s = steady_s()
        self.worst_lateness_s = 0.0

    def progress(self, part: str) -> None:
        self._last[part] = steady_s()

    def forget(self, part: str) -> None:
        """This part is not waited for any more."""
        self._last.pop(part, None)

    def up_s(self) -> float:
        return steady_s() - self.started_s

    def late(self, seconds: float) -> None:
        """How late the engine handled an event."""
        self.worst_lateness_s = max(self.worst_lateness_s, seconds)

    def stuck(self) -> list[str]:
        """Parts that made no progress within their limit, with how long."""
        now_s = steady_s()
        return [
            f"{part} for {now_s - at_s:.0f} s"
            for part, at_s in dict(self._last).items()
            if now_s - at_s > LIMITS_S[part.partition(" ")[0]]
        ]


def feed_watchdog(health: Health, notifier: Notifier, stop: threading.Event) -> None:
    """Tell systemd that we live, four times in its interval, as long as that is true."""
    if notifier.watchdog_s is None:
        stop.wait()
        return
    told = ""
    while not stop.wait(notifier.watchdog_s / FEEDINGS):
        stuck = ", ".join(health.stuck())
        if not stuck:
            notifier.alive()
        if stuck != told:
            notifier.status(f"no progress: {stuck}" if stuck else "watching")
            told = stuck
