"""Senders of sentences: a TCP server as boats have one, and a pair of ends like a serial line."""

from __future__ import annotations

import contextlib
import os
import pty
import socket
import threading
import time
import tty
from pathlib import Path

from .closing import Closing


class SentenceServer(Closing):
    """Sends the same bytes to every client. Can hang up, go away, and come back on its port."""

    def __init__(self, port: int = 0) -> None:
        self.clients: list[socket.socket] = []
        self.port = port
        self.back()

    def back(self) -> None:
        """Listen (again)."""
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(("127.0.0.1", self.port))
        listener.listen()
        self.port = int(listener.getsockname()[1])
        self._listener = listener
        self._thread = threading.Thread(target=self._accept, args=(listener,), daemon=True)
        self._thread.start()

    def wait(self, clients: int = 1, within_s: float = 30.0) -> None:
        """Until so many are connected."""
        edge_s = time.monotonic() + within_s
        while len(self.clients) < clients:
            if time.monotonic() > edge_s:
                raise TimeoutError("nobody connected")
            time.sleep(0.005)

    def send(self, data: bytes) -> None:
        for client in list(self.clients):
            try:
                client.sendall(data)
            except OSError:
                self.clients.remove(client)
                client.close()

    def hang_up(self) -> None:
        for client in self.clients:
            with contextlib.suppress(OSError):
                client.shutdown(socket.SHUT_RDWR)
            client.close()
        self.clients.clear()

    def go(self) -> None:
        """No more listening, no more connections."""
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._thread.join(2.0)
        self.hang_up()

    def close(self) -> None:
        self.go()

    def _accept(self, listener: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while True:
                client, _ = listener.accept()
                client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
                self.clients.append(client)


class PtyPair(Closing):
    """A pseudo terminal behind a lasting name, like a by-id link of a USB port: `path`.

    `unplug` takes the device away and `plug` brings it back, mostly with another number.
    """

    def __init__(self, link: Path) -> None:
        self.path = link
        self._master = -1
        self._keep = -1
        self.plug()

    def plug(self) -> None:
        master, slave = pty.openpty()
        tty.setraw(slave)
        self._master, self._keep = master, slave
        self.path.unlink(missing_ok=True)
        self.path.symlink_to(os.ttyname(slave))

    def send(self, data: bytes) -> None:
        while data:
            data = data[os.write(self._master, data) :]

    def unplug(self) -> None:
        self.path.unlink(missing_ok=True)
        for end in (self._master, self._keep):
            with contextlib.suppress(OSError):
                os.close(end)
        self._master = self._keep = -1

    close = unplug
