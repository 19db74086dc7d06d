"""Syslog over UDP, TCP or TLS with octet counting, or the machine's own socket.

TCP takes bytes that then never arrive, so a message counts as delivered when the other end's
machine has acknowledged every byte, and of a new line when it still stands a moment later: a
forwarder whose receiver is away takes the bytes and then hangs up. UDP proves nothing of
arrival: for alarms use TLS, or the local log. Where a name must be looked up first, that has its
deadline too.

A receiver may take bytes and fall before it has read them. When a line breaks, other than by being
closed in order, what went over it lately goes again over the next one; `msg` tells it is the same.
One line after another may break so, so nothing of the last quarter of an hour is let go, but for
more than any boat has to say in it; nor is it when the worker of this outlet is started anew.
"""

from __future__ import annotations

import contextlib
import fcntl
import itertools
import os
import select
import socket
import ssl
import struct
import threading
import time
from collections import deque
from typing import ClassVar, Literal

import msgspec

from ..words.effects import Message
from ..words.orders import OutletTable
from ..words.wires import DeliveryFailed, EdgeOutlet, SecretReader
from .rfc5424 import FACILITIES, line

WAIT_S = 5.0  # for each step: look-up, connect, send, acknowledgement
STAYS_S = 0.2  # a new line that is broken within that time led nowhere; our choice
LATELY_S, LATELY = 900.0, 2000  # what is sent again at most: a megabyte; our choice
PART_BYTES = 16_384  # about so much of it at once, so that a slow line gets on with it
DATAGRAM_BYTES = 2048  # RFC 5426 3.2: what receivers should take
STREAM_BYTES = 8192
_SIOCOUTQ = 0x5411  # linux/sockios.h: bytes sent and not yet acknowledged

Facility = Literal["user", "daemon", "local0", "local1", "local2", "local3", "local4",
                   "local5", "local6", "local7"]  # fmt: skip


class Syslog(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`syslog = { address = "/dev/log" }`, or "udp:host:port", "tcp:...", "tls:..."."""

    address: str = "/dev/log"
    facility: Facility = "daemon"
    ca: str = ""  # for tls: a file with the authority to trust instead of the system's


class SyslogOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An [[outlet]] with `syslog`."""

    kind: ClassVar[str] = "syslog"
    reader: ClassVar[Literal["person", "machine"]] = "machine"

    syslog: Syslog

    def problems(self) -> list[tuple[str, str]]:
        try:
            parts(self.syslog.address)
        except ValueError:
            said = 'expected "/dev/log", "udp:host:port", "tcp:host:port" or "tls:host:port"'
            return [("syslog.address", f'{said}; found "{self.syslog.address}"')]
        return []

    def open(self, secret: SecretReader) -> EdgeOutlet:
        return SyslogSender(self.syslog)


class SyslogSender:
    """Keeps one connection, and makes it anew when it broke."""

    def __init__(self, orders: Syslog, wait_s: float = WAIT_S) -> None:
        self._way, self._host, self._port = parts(orders.address)
        self._facility = FACILITIES[orders.facility]
        self._ca = orders.ca
        self._wait_s = wait_s
        self._wire: socket.socket | None = None
        self._name = socket.gethostname()
        self._lately: deque[tuple[float, bytes]] = deque(maxlen=LATELY)  # over this line
        self._broke: list[bytes] = []  # went over one that broke

    def deliver(self, message: Message) -> None:
        stream = self._way in ("tcp", "tls")
        data = line(
            message,
            facility=self._facility,
            host=self._name,
            pid=os.getpid(),
            most_bytes=STREAM_BYTES if stream else DATAGRAM_BYTES,
        )
        if stream:
            data = b"%d %s" % (len(data), data)  # octet counting: RFC 6587 3.4.1, RFC 5425 4.3
        kept = self._wire is not None
        try:
            self._send(data, stream)
        except (OSError, ValueError) as error:
            self._break()
            if not kept:
                raise DeliveryFailed(f"syslog: {_why(error)}") from None
            # A kept connection may have died unnoticed; a new one is tried at once.
            self._again(data, stream)

    def follow(self, before: EdgeOutlet) -> None:
        """Its worker ended in the middle of something: nobody knows what of its line was read."""
        if isinstance(before, SyslogSender):
            before._break()
            self._broke, before._broke = before._broke, []

    def close(self) -> None:
        wire, self._wire = self._wire, None
        if wire is not None:
            with contextlib.suppress(OSError):
                wire.close()

    def _again(self, data: bytes, stream: bool) -> None:
        try:
            self._send(data, stream)
        except (OSError, ValueError) as error:
            self._break()
            raise DeliveryFailed(f"syslog: {_why(error)}") from None

    def _break(self) -> None:
        """This line is gone, and nobody knows how much of what it took was read."""
        since_s = time.monotonic() - LATELY_S
        lately = [data for sent_s, data in self._lately if sent_s >= since_s]
        self._broke = [*lately, *self._broke][-LATELY:]
        self._lately.clear()
        self.close()

    def _send(self, data: bytes, stream: bool) -> None:
        end = _end(self._wire) if self._wire is not None and stream else ""
        if end == "broken":
            self._break()
        elif end:
            self._lately.clear()
            self.close()
        fresh = self._wire is None
        if self._wire is None:
            self._wire = self._connect()
        wire = self._wire
        wire.settimeout(self._wait_s)
        self._catch_up(wire)
        wire.sendall(data)
        if stream:
            _acknowledged(wire, self._wait_s)
        if stream and fresh:
            select.select([wire], [], [], STAYS_S)
            if _end(wire):
                raise ConnectionError("the receiver hung up")
        if stream:
            self._lately.append((time.monotonic(), data))

    def _catch_up(self, wire: socket.socket) -> None:
        """What went over a line that broke. On a slow one the rest follows at the next try: the
        line stands, and what it took need not go again."""
        edge_s = time.monotonic() + self._wait_s
        while self._broke:
            if time.monotonic() > edge_s:
                raise DeliveryFailed("syslog: slow; what an earlier line may have lost goes first")
            sizes = itertools.accumulate(map(len, self._broke))
            count = 1 + sum(1 for _ in itertools.takewhile(lambda n: n < PART_BYTES, sizes))
            part = self._broke[:count]
            wire.sendall(b"".join(part))
            _acknowledged(wire, self._wait_s)
            now_s = time.monotonic()
            self._lately.extend((now_s, one) for one in part)
            del self._broke[:count]

    def _connect(self) -> socket.socket:
        if self._way == "unix":
            return _local(self._host, self._wait_s)
        kind = socket.SOCK_DGRAM if self._way == "udp" else socket.SOCK_STREAM
        wire = _connected(_looked_up(self._host, self._port, kind, self._wait_s), self._wait_s)
        if self._way != "tls":
            return wire
        try:
            context = ssl.create_default_context(cafile=self._ca or None)
            return context.wrap_socket(wire, server_hostname=self._host)
        except BaseException:
            wire.close()
            raise


def parts(address: str) -> tuple[str, str, int]:
    """(way, host or path, port). Raises ValueError."""
    if address.startswith("/"):
        return "unix", address, 0
    way, _, rest = address.partition(":")
    host, _, port = rest.rpartition(":")
    if way not in ("udp", "tcp", "tls") or not host or not 0 < int(port) < 65_536:
        raise ValueError(address)
    return way, host.strip("[]"), int(port)


Address = tuple[socket.AddressFamily, socket.SocketKind, int, str, tuple[object, ...]]


def _looked_up(host: str, port: int, kind: socket.SocketKind, within_s: float) -> list[Address]:
    """getaddrinfo has no deadline of its own, so it waits in a thread that may be left."""
    found: list[list[Address]] = []
    failed: list[OSError] = []

    def look() -> None:
        try:
            found.append(socket.getaddrinfo(host, port, type=kind))  # type: ignore[arg-type]  # its address tuples are of several lengths
        except OSError as error:
            failed.append(error)
        except UnicodeError:
            failed.append(OSError("the host's name is not a name"))

    thread = threading.Thread(target=look, name="look-up", daemon=True)
    thread.start()
    thread.join(within_s)
    if failed:
        raise failed[0]
    if not found:
        raise TimeoutError("the host's name was not found in time")
    return found[0]


def _connected(addresses: list[Address], within_s: float) -> socket.socket:
    """The first address that answers."""
    error: OSError = OSError("no address")
    for family, kind, proto, _, address in addresses:
        wire = socket.socket(family, kind, proto)
        wire.settimeout(within_s)
        try:
            wire.connect(address)
        except OSError as failed:
            wire.close()
            error = failed
            continue
        return wire
    raise error


def _local(path: str, within_s: float) -> socket.socket:
    """The machine's own log socket: of datagrams, on most machines."""
    wire = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    wire.settimeout(within_s)
    try:
        wire.connect(path)
    except OSError:
        wire.close()
        raise
    return wire


def _end(wire: socket.socket) -> str:
    """'' while the line stands, 'closed' when the other end closed it, 'broken'. A receiver of
    syslog never says anything else."""
    wire.settimeout(0)
    try:
        return "closed" if wire.recv(1) == b"" else ""
    except (BlockingIOError, ssl.SSLWantReadError):
        return ""
    except OSError:
        return "broken"


def _acknowledged(wire: socket.socket, within_s: float) -> None:
    """Wait until no sent byte is on its way any more."""
    edge_s = time.monotonic() + within_s
    pause_s = 0.0005
    while True:
        waits = _unacknowledged(wire) > 0
        # Of a line that broke the count of what is on its way stays as it was.
        failed = wire.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
        if failed:
            raise OSError(failed, os.strerror(failed))
        if not waits:
            return
        if time.monotonic() > edge_s:
            raise TimeoutError("the receiver takes nothing")
        time.sleep(pause_s)
        pause_s = min(pause_s * 2, 0.05)


def _unacknowledged(wire: socket.socket) -> int:
    (waiting,) = struct.unpack("i", fcntl.ioctl(wire.fileno(), _SIOCOUTQ, b"\0" * 4))
    return int(waiting)


def _why(error: Exception) -> str:
    if isinstance(error, ssl.SSLCertVerificationError):
        return f"the receiver's certificate is not trusted: {error.verify_message}"
    if isinstance(error, TimeoutError):
        return str(error.args[-1]) if error.args else "no answer in time"
    return str(getattr(error, "strerror", None) or error)
