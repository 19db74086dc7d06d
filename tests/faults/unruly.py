"""The daemon as it is, in a process that can spoil its parts: nothing in the product knows of it.

    UNRULY=FOLDER python -m tests.faults.unruly watch ...

A file FOLDER/NAME, NAME of a worker with dashes for blanks, makes that worker raise the next time
it looks whether it is to stop; 'engine' makes the engine raise at the next event; a file
'engine-stands' or 'sounder-stands' holds up that thread while it is there. A file that made
something raise is removed.
"""

from __future__ import annotations

import os
import threading
import time
from pathlib import Path

from shipkeeper.app.supervise import Body, Supervisor, Tell, Worker
from shipkeeper.engine import Engine
from shipkeeper.outlets.terminal import DrawnVoice
from shipkeeper.words.effects import Effect
from shipkeeper.words.events import Event

FOLDER = Path(os.environ["UNRULY"])


class Bug(Exception):
    """A mistake of ours, as it might stand anywhere."""


def act(name: str) -> None:
    """Raise, when told to."""
    told = FOLDER / name.replace(" ", "-")
    if told.exists():
        told.unlink()
        raise Bug(f"in {name}")


def stand(name: str) -> None:
    """Stand still, while told to."""
    while (FOLDER / f"{name}-stands").exists():
        time.sleep(0.05)


class UnrulyStop(threading.Event):
    """What a worker looks at to know whether it is to stop."""

    def __init__(self, stop: threading.Event, name: str) -> None:
        super().__init__()
        self._stop, self._name = stop, name

    def is_set(self) -> bool:
        act(self._name)
        return self._stop.is_set()

    def wait(self, timeout: float | None = None) -> bool:
        edge_s = time.monotonic() + (1e9 if timeout is None else timeout)
        while True:
            act(self._name)
            left_s = edge_s - time.monotonic()
            if left_s <= 0 or self._stop.wait(min(left_s, 0.2)):
                return self._stop.is_set()


def spoil() -> None:
    """Put the hooks in, before the daemon is made."""
    start, handle, draw = Supervisor.start, Engine.handle, DrawnVoice.pattern

    def unruly_start(
        self: Supervisor, name: str, body: Body, tell: Tell, *, may_end: bool = False
    ) -> Worker:
        return start(self, name, lambda stop: body(UnrulyStop(stop, name)), tell, may_end=may_end)

    def unruly_handle(self: Engine, event: Event) -> list[Effect]:
        act("engine")
        stand("engine")
        return handle(self, event)

    def unruly_pattern(self: DrawnVoice, name: str, text: str) -> None:
        stand("sounder")
        draw(self, name, text)

    Supervisor.start = unruly_start  # type: ignore[method-assign]  # spoilt on purpose
    Engine.handle = unruly_handle  # type: ignore[method-assign]  # spoilt on purpose
    DrawnVoice.pattern = unruly_pattern  # type: ignore[method-assign]  # spoilt on purpose


if __name__ == "__main__":
    spoil()
    from shipkeeper.cli.main import main

    main()
