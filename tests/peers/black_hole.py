"""A place on loopback where connections are neither made nor refused: a network that swallows.

A listener whose short queue is full: the kernel drops what else knocks, as a link does that is
up and leads nowhere.
"""

from __future__ import annotations

import contextlib
import socket
from typing import Self

KNOCKS = 4  # more than any queue of nothing holds


class BlackHole:
    def __init__(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0), backlog=0)
        self.port: int = self._listener.getsockname()[1]
        self._held = []
        for _ in range(KNOCKS):
            one = socket.socket()
            one.setblocking(False)
            with contextlib.suppress(BlockingIOError):
                one.connect(("127.0.0.1", self.port))
            self._held.append(one)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        for one in (*self._held, self._listener):
            one.close()
