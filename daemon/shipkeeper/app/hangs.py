"""Workers that hang: noticed, left behind by name, and replaced by a fresh one.

A thread in a call that never returns cannot be ended from outside. What can be done is to
leave it, say so, and start another beside it. Each further time for the same worker the
patience doubles, so that threads left behind do not heap up.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from .clock import steady_s
from .supervise import Supervisor

PATIENCE_S = 30.0
MOST_PATIENCE_S = 3600.0
LOOK_EVERY_S = 1.0


class Busy:
    """A with-block around calls that may hang. Only the newest thread in it counts."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._who = 0
        self._since_s: float | None = None

    def __enter__(self) -> None:
        with self._lock:
            self._who, self._since_s = threading.get_ident(), steady_s()

    def __exit__(self, *_: object) -> None:
        with self._lock:
            if self._who == threading.get_ident():
                self._since_s = None

    def forget(self) -> None:
        with self._lock:
            self._who, self._since_s = 0, None

    def for_s(self) -> float:
        """Seconds that the call has lasted; 0 when there is none."""
        with self._lock:
            return 0.0 if self._since_s is None else steady_s() - self._since_s


class HangWatch:
    """Looks at every watched worker once a second (`run` is a thread's body)."""

    def __init__(self, supervisor: Supervisor, tell: Callable[[str, str], None]) -> None:
        self._supervisor, self._tell = supervisor, tell
        self._watched: dict[str, tuple[Busy, float]] = {}

    def watch(self, worker: str, busy: Busy, patience_s: float = PATIENCE_S) -> None:
        self._watched[worker] = (busy, patience_s)

    def run(self, stop: threading.Event) -> None:
        while not stop.wait(LOOK_EVERY_S):
            self.look()

    def look(self) -> None:
        for name, (busy, patience_s) in list(self._watched.items()):
            hung_s = busy.for_s()
            if hung_s < patience_s:
                continue
            busy.forget()
            self._watched[name] = (busy, min(patience_s * 2, MOST_PATIENCE_S))
            self._tell(name, f"hangs for {hung_s:.0f} s; left behind and started anew")
            self._supervisor.replace(name)
