"""The state folder: one daemon at a time, and the store in it, opened without trusting the disk."""

from __future__ import annotations

import contextlib
import fcntl
import threading
from collections.abc import Iterator
from pathlib import Path

from ..store import Store, StoreFailed
from ..words.remembered import Remembered
from .log import log

OPEN_WITHIN_S = 8.0


class AlreadyRuns(Exception):
    """Another daemon has this state folder."""


@contextlib.contextmanager
def held(state: Path) -> Iterator[None]:
    """The folder, made when it is not there, and ours by a lock that dies with its holder."""
    state.mkdir(parents=True, exist_ok=True)
    with (state / "lock").open("w") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise AlreadyRuns(f"another shipkeeper keeps {state}") from None
        yield


def open_store(path: Path, memory: Path | None = None) -> tuple[Store | None, Remembered, str]:
    """(store, what it remembers, what is wrong with it or ''). A disk that does not answer
    within some seconds is gone without: a watch without memory is better than none."""
    found: list[tuple[Store, Remembered] | str] = []

    def attempt() -> None:
        try:
            store = Store.open(path, memory)
            found.append((store, store.load()))
        except StoreFailed as failed:
            found.append(str(failed))

    thread = threading.Thread(target=attempt, name="store opening", daemon=True)
    thread.start()
    thread.join(OPEN_WITHIN_S)
    result = found[0] if found else f"{path}: the disk does not answer"
    if isinstance(result, str):
        log(f"store: {result}; the watch goes on without it")
        return None, Remembered(), result
    return *result, ""
