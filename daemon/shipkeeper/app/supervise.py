"""The supervisor: runs every worker in a thread of its own and never lets one die quietly.

The only place in the house that catches Exception. A worker that raises, or ends when nobody
asked it to, is told to the engine and started again with growing pauses. One that does not
stop within two seconds is abandoned by name: its thread is a daemon thread and keeps nobody
from leaving. No worker touches the engine; what happens to them reaches it as events.
"""

from __future__ import annotations

import random
import threading
import traceback
from collections.abc import Callable

from .clock import steady_s
from .log import log

FIRST_PAUSE_S = 1.0
LONGEST_PAUSE_S = 60.0
HEALTHY_AFTER_S = 30.0  # a worker that lived this long is well again
STOP_WITHIN_S = 2.0

Body = Callable[[threading.Event], object]
Tell = Callable[[bool, str], None]  # (ok, why)


class Worker:
    """One supervised thread."""

    def __init__(self, name: str, body: Body, tell: Tell, *, may_end: bool) -> None:
        self.name = name
        self.deaths = 0
        self.last_why = ""
        self._body, self._tell, self._may_end = body, tell, may_end
        self._stop = threading.Event()
        self._told_dead = False
        self._thread = threading.Thread(target=self._live, name=name, daemon=True)

    def start(self) -> None:
        self._thread.start()

    def twin(self) -> Worker:
        """Another of the same, not started; it carries on the count of deaths."""
        twin = Worker(self.name, self._body, self._tell, may_end=self._may_end)
        twin.deaths = self.deaths + 1
        return twin

    def ask_to_stop(self) -> None:
        self._stop.set()

    def wait(self, timeout_s: float) -> bool:
        """True when the thread has ended."""
        self._thread.join(max(0.0, timeout_s))
        return not self._thread.is_alive()

    @property
    def alive(self) -> bool:
        return self._thread.is_alive()

    def _live(self) -> None:
        pause_s = FIRST_PAUSE_S
        while not self._stop.is_set():
            began_s = steady_s()
            well = self._well_again() if self._told_dead else None
            try:
                self._body(self._stop)
                why = "ended without being asked"
                if self._may_end:
                    return
            except Exception as error:  # noqa: BLE001  # the one place: a worker must not die quietly
                why = reason(error)
                log(f"{self.name}: {traceback.format_exc()}")
            finally:
                if well is not None:
                    well.cancel()
            if self._stop.is_set():
                return
            if steady_s() - began_s >= HEALTHY_AFTER_S:
                pause_s = FIRST_PAUSE_S
            self.deaths += 1
            self.last_why = why
            self._told_dead = True
            self._tell(False, f"{why}; starting again in {pause_s:.0f} s")
            # Jitter, so that workers that fell together do not come back together.
            self._stop.wait(pause_s * random.uniform(0.8, 1.2))
            pause_s = min(pause_s * 2, LONGEST_PAUSE_S)

    def _well_again(self) -> threading.Timer:
        """Tells that the worker works again, once it has lived for a while."""

        def tell() -> None:
            self._told_dead = False
            self._tell(True, "works again")

        timer = threading.Timer(HEALTHY_AFTER_S, tell)
        timer.daemon = True
        timer.start()
        return timer


class Supervisor:
    """All workers by name."""

    def __init__(self) -> None:
        self.workers: dict[str, Worker] = {}
        self.abandoned: list[str] = []

    def start(self, name: str, body: Body, tell: Tell, *, may_end: bool = False) -> Worker:
        """Run `body(stop)` in a thread of its own until stopped. `tell(ok, why)` is called
        from that thread when it dies and when it is well again."""
        worker = Worker(name, body, tell, may_end=may_end)
        self.workers[name] = worker
        worker.start()
        return worker

    def replace(self, name: str) -> None:
        """Leave this worker's thread behind, by name, and start a fresh one in its place."""
        old = self.workers[name]
        old.ask_to_stop()
        self.abandoned.append(name)
        log(f"{name}: hangs and is left behind; a fresh one is started")
        fresh = old.twin()
        self.workers[name] = fresh
        fresh.start()

    def stop(self, *names: str, within_s: float = STOP_WITHIN_S) -> list[str]:
        """Stop these (or all) together; returns the names of those left behind."""
        chosen = [self.workers.pop(name) for name in names or tuple(self.workers)]
        for worker in chosen:
            worker.ask_to_stop()
        edge_s = steady_s() + within_s
        left = [w.name for w in chosen if not w.wait(edge_s - steady_s())]
        for name in left:
            log(f"{name}: did not stop within {within_s:g} s and is left behind")
        self.abandoned += left
        return left


def reason(error: Exception) -> str:
    """An error in words for a person, without its innards."""
    text = str(error).strip().splitlines()[0] if str(error).strip() else ""
    if isinstance(error, OSError) and error.strerror:
        return error.strerror.lower()
    return f"{type(error).__name__}: {text}" if text else type(error).__name__
