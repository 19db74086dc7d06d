"""What `wait-for` has to tell, pushed to the people ashore: again and again until it went out."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from datetime import UTC, datetime

from ..outlets.push import Push, PushSender
from ..words.alert import Priority
from ..words.effects import Message
from ..words.wires import DeliveryFailed
from . import paths
from .ashore import Told
from .lane import MOST_HELD_S

RETRY_S = 15.0


class Caller:
    """A thread that delivers one message after the other; newer ones replace what waits."""

    def __init__(self, urls: str, problem: Callable[[str], None]) -> None:
        """urls: the secret that names the addresses. OSError or ValueError when it cannot."""
        paths.secret(urls)
        self._sender = PushSender(Push(urls=urls), paths.secret)
        self._problem = problem
        self._wake = threading.Condition()
        self._waiting: Message | None = None
        self._number = 0
        self._closed = False
        self._thread = threading.Thread(target=self._live, name="caller", daemon=True)
        self._thread.start()

    def call(self, told: Told) -> None:
        now_s = time.time()
        self._number += 1
        at = datetime.fromtimestamp(now_s, UTC).isoformat(timespec="milliseconds")
        with self._wake:
            self._waiting = Message(
                id=f"ashore-{now_s:.3f}-{self._number}",
                outlet="ashore",
                at_s=now_s,
                at=at.replace("+00:00", "Z"),
                event="cleared" if told.what.endswith("again") else "raised",
                about="ashore",
                number=1,
                occurrence=self._number,
                priority=Priority.ALARM,
                state="active-unacknowledged",
                title=told.title,
                line=told.text.partition(". ")[0],
                text=told.text,
            )
            self._wake.notify()

    def close(self) -> None:
        with self._wake:
            self._closed = True
            self._wake.notify()
        self._thread.join(1.0)
        self._sender.close()

    def _live(self) -> None:
        while True:
            with self._wake:
                while self._waiting is None and not self._closed:
                    self._wake.wait()
                if self._closed:
                    return
                message = self._waiting
            assert message is not None
            try:
                self._sender.deliver(message)
            except DeliveryFailed as failed:
                self._problem(f"push failed, trying again: {failed}")
                with self._wake:
                    # As long as the service asks for, but no hour goes by without a try.
                    self._wake.wait(min(max(RETRY_S, failed.again_s or 0.0), MOST_HELD_S))
                continue
            with self._wake:
                if self._waiting is message:
                    self._waiting = None
