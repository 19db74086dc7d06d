"""A TCP server of sentences (the boat's own server): connects, and connects again."""

from __future__ import annotations

import socket
import threading
import time
from typing import ClassVar

from ..words.address import bad_address, host_port
from ..words.orders import InputTable
from ..words.wires import InputSink, InputWorker
from .backoff import Backoff
from .dialled import keep_connected

READ_WAIT_S = 0.5
SILENT_S = 60.0  # a connection that says nothing for so long is taken for half open
# A server that lost its power says nothing more, not even that: the kernel asks after so long
# a quiet, so often, and then breaks the connection. Half a minute in all.
KEEPALIVE = ((socket.TCP_KEEPIDLE, 15), (socket.TCP_KEEPINTVL, 5), (socket.TCP_KEEPCNT, 3))


class TcpInput(InputTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`tcp = "host:port"`."""

    kind: ClassVar[str] = "tcp"

    tcp: str

    def problems(self) -> list[tuple[str, str]]:
        return bad_address("tcp", self.tcp)

    def worker(self) -> InputWorker:
        return TcpWorker(*host_port(self.tcp))


class TcpWorker:
    """Reads one connection at a time."""

    def __init__(self, host: str, port: int, silent_s: float = SILENT_S) -> None:
        self._host, self._port, self._silent_s = host, port, silent_s

    def run(self, sink: InputSink, stop: threading.Event) -> None:
        def talk(wire: socket.socket, backoff: Backoff) -> str:
            sink.news(True)
            return self._read(wire, sink, stop, backoff)

        keep_connected((self._host, self._port), f"{self._host}:{self._port}", talk, sink, stop)

    def _read(
        self, wire: socket.socket, sink: InputSink, stop: threading.Event, backoff: Backoff
    ) -> str:
        wire.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
        for option, value in KEEPALIVE:
            wire.setsockopt(socket.IPPROTO_TCP, option, value)
        wire.settimeout(READ_WAIT_S)
        heard_s = time.monotonic()
        while not stop.is_set():
            try:
                chunk = wire.recv(65_536)
            except TimeoutError:
                silent_s = time.monotonic() - heard_s
                if silent_s >= self._silent_s:
                    backoff.reset()  # it answers: to be tried again at once
                    return f"has said nothing for {silent_s:.0f} s"
                continue
            except OSError as error:
                return f"broke off: {error.strerror or error}"
            if not chunk:
                return "closed the connection"
            heard_s = time.monotonic()
            backoff.reset()
            sink.data(chunk)
        return "stopped"
