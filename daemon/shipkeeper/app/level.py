"""Level outlets at work: each in a thread of its own, shown the wanted state again and again.

The main thread only leaves what is wanted in `Presented` and goes on; a terminal that nobody
reads, or a broker that does not answer, holds up its own thread and nothing else. The engine
refreshes it at least once a second, so a sounder that is not refreshed knows that the engine
has stopped, and sounds its own fault pattern.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from ..words.effects import Show, Wanted
from ..words.orders import OutletTable
from ..words.wires import Aboard, LevelOutlet, SecretReader
from .clock import steady_s
from .hangs import Busy
from .health import Health

LOOK_S = 0.5
DEAF_S = 2.0  # a sounder's own thread that has not moved for so long is dead

Seen = tuple[int, Wanted, Show]


class Presented:
    """The newest wanted state, for any number of threads to look at."""

    def __init__(self) -> None:
        self._changed = threading.Condition()
        self._version = 0
        self._wanted = Wanted(pattern="silence")
        self._show = Show(at="", watch="off", crew="aboard", alerts=(), watching=False)

    def present(self, wanted: Wanted | None, show: Show | None) -> None:
        """At a change, and again and again without one (then with None and None)."""
        with self._changed:
            self._wanted = wanted or self._wanted
            self._show = show or self._show
            self._version += 1
            self._changed.notify_all()

    def newer(self, than: int, wait_s: float) -> Seen | None:
        """What was presented after version `than`; None when nothing came in that time."""
        with self._changed:
            if self._version <= than:
                self._changed.wait(wait_s)
            return (self._version, self._wanted, self._show) if self._version > than else None


class LevelWorker:
    """Opens one level outlet and shows it everything. `run` is the thread's body."""

    def __init__(
        self,
        table: OutletTable,
        secret: SecretReader,
        presented: Presented,
        health: Health,
        news: Callable[[str, bool, str], None],
        aboard: Aboard,
        shown: Callable[[str, Wanted], None],
    ) -> None:
        self.table, self.busy, self._aboard, self._shown = table, Busy(), aboard, shown
        self._secret, self._presented, self._health = secret, presented, health
        self._news = news

    def run(self, stop: threading.Event) -> None:
        """Raises whatever the outlet raises; the supervisor opens it anew."""
        part = f"sounder {self.table.name}"
        with self.busy:
            outlet = self.table.open_shown(self._secret, self._aboard)
        pulse = _Pulse(outlet)
        link = getattr(outlet, "link", _always)
        version = -1
        told: bool | None = None
        try:
            while not stop.is_set():
                seen = self._presented.newer(version, LOOK_S)
                if seen is not None:
                    version = seen[0]
                    with self.busy:
                        outlet.show(seen[1], seen[2])
                    self._shown(self.table.name, seen[1])
                if pulse.beats():
                    self._health.progress(part)
                stands = link()
                if stands is not None and stands[0] is not told:
                    told = stands[0]
                    self._news(self.table.name, *stands)
        finally:
            # What cannot be opened is told as a fault; a restart of the daemon would not mend it.
            self._health.forget(part)
            with self.busy:
                outlet.close()


def _always() -> tuple[bool, str]:
    """The link of an outlet that has none: it is open, or it raises."""
    return True, "open"


class _Pulse:
    """Whether a sounder's own thread still moves: it counts its rounds in `ticks`."""

    def __init__(self, outlet: LevelOutlet) -> None:
        self._outlet = outlet
        self._ticks: int | None = getattr(outlet, "ticks", None)
        self._moved_s = steady_s()

    def beats(self) -> bool:
        """True for a sounder that moves, False for an outlet that is none. Raises OSError."""
        if self._ticks is None:
            return False
        now_s, ticks = steady_s(), getattr(self._outlet, "ticks", 0)
        if ticks != self._ticks:
            self._ticks, self._moved_s = ticks, now_s
        elif now_s - self._moved_s > DEAF_S:
            raise OSError("the sounder does not answer")
        return True
