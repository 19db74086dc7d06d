"""Signed commands that came over MQTT: proved, handed to the engine, answered.

What is not signed by a known key is answered to nobody and goes no further: whoever may write
to the broker learns nothing by trying. What the engine's gate refuses (replayed, too late) is
answered with its reason. The keys are read anew each time, so that one taken away is off at once.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from typing import Any

from ..words.signed import BadSignature, read_keys, verify
from ..words.wires import Obey, SecretReader

MOST_WAITING = 32


class Commands:
    """One thread that obeys; `take` never blocks."""

    def __init__(
        self,
        secret: SecretReader,
        keys: str,
        boat: str,
        obey: Obey,
        answer: Callable[[dict[str, Any]], None],
    ) -> None:
        """Raises OSError or ValueError when the keys cannot be read."""
        read_keys(secret(keys))
        self._secret, self._keys, self._boat = secret, keys, boat
        self._obey, self._answer = obey, answer
        self.refused = 0  # what was not signed by a known key
        self._waiting: queue.Queue[bytes | None] = queue.Queue(MOST_WAITING)
        self._thread = threading.Thread(target=self._live, name="mqtt commands", daemon=True)
        self._thread.start()

    def take(self, payload: bytes) -> None:
        """A flood of garbage costs nothing but its own place in the queue."""
        try:
            self._waiting.put_nowait(payload)
        except queue.Full:
            self.refused += 1

    def close(self) -> None:
        try:
            self._waiting.put_nowait(None)
        except queue.Full:
            return
        self._thread.join(1.0)

    def _live(self) -> None:
        while (payload := self._waiting.get()) is not None:
            try:
                command, key = verify(payload, read_keys(self._secret(self._keys)), self._boat)
            except (BadSignature, OSError, ValueError):
                self.refused += 1
                continue
            code, text = self._obey(
                command.verb,
                command.args,
                who=key.name,
                where=key.where,
                through="mqtt",
                key=key.name,
                counter=command.counter,
                sent_s=command.sent,
            )
            self._answer(
                {
                    "schema": 1,
                    "boat": self._boat,
                    "key": key.name,
                    "counter": command.counter,
                    "verb": command.verb,
                    "code": code,
                    "text": text,
                }
            )
