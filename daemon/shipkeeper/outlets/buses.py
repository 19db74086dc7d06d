"""Wires for sentences out: a TCP server, UDP, a serial port; and what comes back on them.

Nothing here listens or sends unless the orders name it. A client that does not read is cut
off: it must not hold up the others.
"""

from __future__ import annotations

import contextlib
import errno
import os
import select
import socket
from typing import Protocol

MOST_CLIENTS = 16
LONGEST_LINE = 256
SEND_S = 0.5


class Bus(Protocol):
    """One wire, used by one thread. Everything raises OSError when the wire is lost."""

    fresh: bool  # somebody new listens since it was last set to False

    def send(self, data: bytes) -> None: ...

    def lines(self, wait_s: float) -> list[tuple[str, str]]:
        """(from whom, line) of all that came in that time."""

    def close(self) -> None: ...


class _Lines:
    """Bytes of one sender, cut into lines."""

    def __init__(self) -> None:
        self._rest = b""

    def feed(self, chunk: bytes) -> list[str]:
        *whole, self._rest = (self._rest + chunk).replace(b"\r", b"\n").split(b"\n")
        self._rest = self._rest[-LONGEST_LINE:]
        return [line[:LONGEST_LINE].decode("ascii", "replace") for line in whole if line]


class TcpServer:
    """Listens; sends the same to every client."""

    def __init__(self, host: str, port: int) -> None:
        self.fresh = False
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        listener = socket.socket(family, socket.SOCK_STREAM)
        try:
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            listener.bind((host, port))
            listener.listen(8)
            listener.setblocking(False)
        except OSError:
            listener.close()
            raise
        self._listener = listener
        self.port = int(listener.getsockname()[1])
        self._clients: dict[socket.socket, tuple[str, _Lines]] = {}

    def send(self, data: bytes) -> None:
        for client in list(self._clients):
            try:
                client.sendall(data)
            except OSError:
                self._drop(client)

    def lines(self, wait_s: float) -> list[tuple[str, str]]:
        ready, _, _ = select.select([self._listener, *self._clients], [], [], wait_s)
        found: list[tuple[str, str]] = []
        for wire in ready:
            if wire is self._listener:
                self._accept()
                continue
            name, cut = self._clients[wire]
            try:
                chunk = wire.recv(4096)
            except OSError:
                chunk = b""
            if not chunk:
                self._drop(wire)
            found += [(name, line) for line in cut.feed(chunk)]
        return found

    def close(self) -> None:
        for client in list(self._clients):
            self._drop(client)
        self._listener.close()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            client, address = self._listener.accept()
            if len(self._clients) >= MOST_CLIENTS:
                client.close()
                return
            client.settimeout(SEND_S)
            client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._clients[client] = (str(address[0]), _Lines())
            self.fresh = True

    def _drop(self, client: socket.socket) -> None:
        self._clients.pop(client, None)
        client.close()


class UdpSender:
    """To one address, a broadcast address or a group. Nothing comes back."""

    def __init__(self, host: str, port: int) -> None:
        self.fresh = False
        self._address = (host, port)
        self._wire = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self._wire.setsockopt(socket.SOL_SOCKET, socket.SO_BROADCAST, 1)
        self._wire.settimeout(SEND_S)

    def send(self, data: bytes) -> None:
        for line in data.splitlines(keepends=True):
            try:
                self._wire.sendto(line, self._address)
            except ConnectionRefusedError:
                continue  # nobody listens there now; somebody may in a moment

    def lines(self, wait_s: float) -> list[tuple[str, str]]:
        ready, _, _ = select.select([self._wire], [], [], wait_s)
        if ready:
            with contextlib.suppress(OSError):
                self._wire.recv(65_535)  # what comes by UDP could come from anybody
        return []

    def close(self) -> None:
        self._wire.close()


class SerialBus:
    """A serial port, both ways."""

    def __init__(self, path: str, baud: int) -> None:
        import serial

        try:
            self._port = serial.Serial(path, baud, timeout=0, write_timeout=5.0)
        except serial.SerialException as error:
            number = error.errno or errno.EIO
            raise OSError(number, f"{path} cannot be opened: {os.strerror(number)}") from None
        self._path = path
        self._cut = _Lines()
        self.fresh = True

    def send(self, data: bytes) -> None:
        import serial

        try:
            self._port.write(data)
        except serial.SerialException:
            raise OSError(errno.EIO, f"{self._path} takes nothing") from None

    def lines(self, wait_s: float) -> list[tuple[str, str]]:
        import serial

        try:
            ready, _, _ = select.select([self._port.fileno()], [], [], wait_s)
            chunk = self._port.read(4096) if ready else b""
        except serial.SerialException:
            raise OSError(errno.EIO, f"{self._path} is gone") from None
        return [(self._path, line) for line in self._cut.feed(chunk)]

    def close(self) -> None:
        self._port.close()
