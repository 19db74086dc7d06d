"""The state folder: one daemon at a time, and the store in it, opened without trusting the disk.

A disk that takes nothing more can mostly still be read: then the watch, its mark and the alerts
are read from a copy in memory, and what comes to be kept waits until the store can be opened.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import shutil
import tempfile
import threading
from collections.abc import Iterator
from pathlib import Path

import msgspec

from ..store import Store, StoreFailed
from ..words.effects import Message
from ..words.remembered import Remembered
from .log import log

OPEN_WITHIN_S = 8.0
AGAIN_WITHIN_S = 0.5
SHARED_MEMORY = Path("/dev/shm")
SICK = frozenset({errno.EROFS, errno.ENOSPC, errno.EDQUOT, errno.EIO})


class AlreadyRuns(Exception):
    """Another daemon has this state folder."""


class Opened(msgspec.Struct, frozen=True):
    """What came of opening the store. `store` None: it cannot be written now, `problem` says
    why; `blind`: it could not be read either, so there may be more than `remembered`."""

    store: Store | None = None
    remembered: Remembered = Remembered()
    problem: str = ""
    owed: tuple[Message, ...] = ()
    blind: bool = False


@contextlib.contextmanager
def held(state: Path) -> Iterator[None]:
    """The folder, made when it is not there, and ours by a lock that dies with its holder. A
    disk that takes no lock is told, and is no reason not to watch."""
    try:
        state.mkdir(parents=True, exist_ok=True)
        lock = _lock(state / "lock")
    except OSError as error:
        if error.errno not in SICK:
            raise
        log(f"{state}: {error.strerror}; the watch goes on without a lock")
        yield
        return
    try:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise AlreadyRuns(f"another shipkeeper keeps {state}") from None
        yield
    finally:
        os.close(lock)


def _lock(path: Path) -> int:
    """Open for reading is enough to lock, also on a disk that cannot be written."""
    try:
        return os.open(path, os.O_RDONLY | os.O_CREAT | os.O_CLOEXEC, 0o600)
    except OSError:
        if not path.exists():
            raise
        return os.open(path, os.O_RDONLY | os.O_CLOEXEC)


class Opener:
    """Opens the store in a thread of its own, since a disk may never answer; one at a time."""

    def __init__(self, path: Path, memory: Path | None = None) -> None:
        self._path, self._memory = path, memory
        self._thread: threading.Thread | None = None
        self._found: Opened | None = None
        self._tries = 0

    def attempt(self, within_s: float = AGAIN_WITHIN_S) -> Opened:
        """What came of it within that time; a try that lasts longer is looked at next time."""
        if self._thread is None:
            self._found = None
            self._tries += 1
            self._thread = threading.Thread(target=self._try, name="store opening", daemon=True)
            self._thread.start()
        self._thread.join(within_s)
        if self._found is None:
            return Opened(problem=f"{self._path}: the disk does not answer", blind=True)
        self._thread = None
        return self._found

    def _try(self) -> None:
        try:
            store = Store.open(self._path, self._memory)
            self._found = Opened(store, store.load())
        except StoreFailed as failed:
            if self._tries == 1:
                self._found = _glimpse(self._path, self._memory, str(failed))
            else:
                self._found = Opened(problem=str(failed))


def open_store(path: Path, memory: Path | None = None) -> tuple[Opened, Opener]:
    """The first attempt, and the means of another. A disk that does not answer within some
    seconds is gone without: a watch without memory is better than none."""
    opener = Opener(path, memory)
    opened = opener.attempt(OPEN_WITHIN_S)
    if opened.store is None:
        what = "nothing of it can be read" if opened.blind else "what it holds was read"
        log(f"store: {opened.problem}; the watch goes on without it, {what}")
    return opened, opener


def _glimpse(path: Path, memory: Path | None, problem: str) -> Opened:
    """What a store that cannot be opened for writing holds, from a copy in memory."""
    if not path.exists():
        return Opened(problem=problem)
    shared = SHARED_MEMORY if SHARED_MEMORY.is_dir() else None
    try:
        with tempfile.TemporaryDirectory(prefix="shipkeeper-", dir=memory or shared) as name:
            copy = Path(name) / path.name
            for tail in ("", "-wal", ".alive"):
                found = path.with_name(path.name + tail)
                if found.exists():
                    shutil.copy2(found, copy.with_name(copy.name + tail))
            store = Store.open(copy, memory)
            remembered, owed = store.load(), tuple(store.pending(None, limit=100_000))
            store.close()
    except (OSError, StoreFailed):
        return Opened(problem=problem, blind=True)
    return Opened(None, remembered, problem, owed)
