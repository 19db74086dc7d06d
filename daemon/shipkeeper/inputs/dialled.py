"""A TCP connection that an input makes, and makes anew with growing pauses when it is gone."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable

from ..words.wires import InputSink
from .backoff import Backoff

CONNECT_S = 5.0
# One connection, from its start to its end: the answer is why it ended, in words.
Talk = Callable[[socket.socket, Backoff], str]


def keep_connected(
    address: tuple[str, int], where: str, talk: Talk, sink: InputSink, stop: threading.Event
) -> None:
    """Until told to stop; every loss is told, with `where` before the reason."""
    backoff = Backoff()
    while not stop.is_set():
        try:
            wire = socket.create_connection(address, timeout=CONNECT_S)
        except OSError as error:
            sink.news(False, f"{where} does not answer: {error.strerror or error}")
            backoff.wait(stop)
            continue
        with wire:
            why = talk(wire, backoff)
        if not stop.is_set():
            sink.news(False, f"{where} {why}")
            backoff.wait(stop)
