"""Syslog receivers on loopback: UDP, TCP and TLS with octet counting, a socket like /dev/log."""

from __future__ import annotations

import contextlib
import queue
import socket
import ssl
import threading
import time
from pathlib import Path


class _Receiver:
    def __init__(self, sock: socket.socket) -> None:
        self._sock = sock
        self.got: queue.Queue[bytes] = queue.Queue()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def next(self, within_s: float = 30.0) -> bytes:
        """The next whole message. Raises queue.Empty."""
        return self.got.get(timeout=within_s)

    def close(self) -> None:
        with contextlib.suppress(OSError):
            self._sock.shutdown(socket.SHUT_RDWR)
        self._sock.close()
        self._thread.join(2.0)

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                data = self._sock.recv(65_535)
                if not data:
                    return
                self.got.put(data)


class SyslogUdp(_Receiver):
    """`address` is for the orders."""

    def __init__(self) -> None:
        sock = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        sock.bind(("127.0.0.1", 0))
        self.port = int(sock.getsockname()[1])
        self.address = f"udp:127.0.0.1:{self.port}"
        super().__init__(sock)


class SyslogUnix(_Receiver):
    """A datagram socket in the file system, as /dev/log is one."""

    def __init__(self, path: Path) -> None:
        sock = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        sock.bind(str(path))
        self.address = str(path)
        super().__init__(sock)


class SyslogTcp(_Receiver):
    """Reads octet-counted messages (RFC 6587 3.4.1). `deaf`: accepts and never reads; `pause_s`:
    after each message. Both hold little."""

    def __init__(
        self,
        port: int = 0,
        tls: ssl.SSLContext | None = None,
        deaf: bool = False,
        pause_s: float = 0.0,
    ) -> None:
        sock = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        sock.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if deaf or pause_s:
            sock.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1 if deaf else 16_384)
        sock.bind(("127.0.0.1", port))
        sock.listen()
        self.port = int(sock.getsockname()[1])
        self.address = f"{'tls' if tls else 'tcp'}:127.0.0.1:{self.port}"
        self.connections: list[socket.socket] = []
        self._tls, self._deaf, self._pause_s = tls, deaf, pause_s
        super().__init__(sock)

    def close(self) -> None:
        super().close()
        self.hang_up()

    def hang_up(self) -> None:
        """Close every connection, as a server that restarts does."""
        for connection in self.connections:
            with contextlib.suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)
            connection.close()
        self.connections.clear()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                connection, _ = self._sock.accept()
                threading.Thread(target=self._read, args=(connection,), daemon=True).start()

    def _read(self, connection: socket.socket) -> None:
        with contextlib.suppress(OSError):
            if self._tls is not None:
                connection = self._tls.wrap_socket(connection, server_side=True)
            self.connections.append(connection)
            if self._deaf:
                return
            with connection.makefile("rb") as stream:
                while (count := _number(stream.read(1), stream.read)) is not None:
                    self.got.put(stream.read(count))
                    time.sleep(self._pause_s)


def _number(first: bytes, read: object) -> int | None:
    digits = b""
    while first.isdigit():
        digits += first
        first = read(1)  # type: ignore[operator]  # a stream's read
    if not digits:
        return None
    assert first == b" ", "an octet count ends with a space"
    return int(digits)
