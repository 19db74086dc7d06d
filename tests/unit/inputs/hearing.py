"""A sink that keeps what an input hears, and an input at work in a thread, for tests."""

from __future__ import annotations

import contextlib
import threading
import time
from collections.abc import Iterator

from shipkeeper.words.wires import InputWorker


class Heard:
    """An InputSink: bytes in one piece, datagrams by themselves, news in order."""

    def __init__(self) -> None:
        self.bytes = b""
        self.datagrams: list[bytes] = []
        self.told: list[tuple[bool, str]] = []
        self._came = threading.Condition()

    def data(self, chunk: bytes, *, whole: bool = False) -> None:
        with self._came:
            self.bytes += chunk
            if whole:
                self.datagrams.append(chunk)
            self._came.notify_all()

    def news(self, up: bool, why: str = "") -> None:
        with self._came:
            self.told.append((up, why))
            self._came.notify_all()

    def until_heard(self, part: bytes, within_s: float = 30.0) -> None:
        with self._came:
            assert self._came.wait_for(lambda: part in self.bytes, within_s), self.bytes

    def until_told(self, up: bool, part: str = "", times: int = 1, within_s: float = 30.0) -> None:
        """So many pieces of such news since the start."""

        def enough() -> bool:
            return sum(up == u and part in why for u, why in self.told) >= times

        with self._came:
            assert self._came.wait_for(enough, within_s), self.told


@contextlib.contextmanager
def at_work(worker: InputWorker) -> Iterator[Heard]:
    """The input in its thread; at the end it must stop within the two seconds it is given."""
    heard, stop = Heard(), threading.Event()
    thread = threading.Thread(target=worker.run, args=(heard, stop))
    thread.start()
    try:
        yield heard
    finally:
        stop.set()
        asked_s = time.monotonic()
        thread.join(5.0)
        assert time.monotonic() - asked_s < 2.0
