"""Syslog as RFC 5424 has it: UDP, TCP or TLS with octet counting, or the machine's own socket.

PRI is facility times 8 plus severity. Severity 0 is never used: receivers commonly show it on
every terminal. All text from the air is cleaned of control characters, and the structured
data's values are escaped. UDP proves nothing of arrival: for alarms use TLS, or the local log.
"""

from __future__ import annotations

import os
import socket
import ssl
from typing import ClassVar, Literal

import msgspec

from ..words.alert import Priority, State
from ..words.effects import Message
from ..words.orders import OutletTable
from ..words.wires import DeliveryFailed, EdgeOutlet, SecretReader

FACILITIES = {"user": 1, "daemon": 3, "local0": 16, "local1": 17, "local2": 18, "local3": 19,
              "local4": 20, "local5": 21, "local6": 22, "local7": 23}  # fmt: skip
SEVERITIES = {
    Priority.EMERGENCY: 1,
    Priority.ALARM: 2,
    Priority.WARNING: 4,
    Priority.CAUTION: 5,
}
NOTICE, INFO, ERROR = 5, 6, 3
ENTERPRISE = 32473  # the number that RFC 5612 keeps for documentation: we own none
WAIT_S = 5.0

Facility = Literal["user", "daemon", "local0", "local1", "local2", "local3", "local4",
                   "local5", "local6", "local7"]  # fmt: skip


class Syslog(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`syslog = { address = "/dev/log" }`, or "udp:host:port", "tcp:...", "tls:..."."""

    address: str = "/dev/log"
    facility: Facility = "daemon"


class SyslogOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An [[outlet]] with `syslog`."""

    kind: ClassVar[str] = "syslog"
    reader: ClassVar[Literal["person", "machine"]] = "machine"

    syslog: Syslog

    def problems(self) -> list[tuple[str, str]]:
        try:
            _parts(self.syslog.address)
        except ValueError:
            said = 'expected "/dev/log", "udp:host:port", "tcp:host:port" or "tls:host:port"'
            return [("syslog.address", f'{said}; found "{self.syslog.address}"')]
        return []

    def open(self, secret: SecretReader) -> EdgeOutlet:
        return SyslogSender(self.syslog)


class SyslogSender:
    """Keeps one connection, and makes it anew when it broke."""

    def __init__(self, orders: Syslog) -> None:
        self._way, self._host, self._port = _parts(orders.address)
        self._facility = FACILITIES[orders.facility]
        self._wire: socket.socket | None = None
        self._hostname = _name(socket.gethostname(), 255)

    def deliver(self, message: Message) -> None:
        data = rfc5424(message, self._facility, self._hostname, os.getpid()).encode("utf-8")
        if self._way in ("tcp", "tls"):
            data = b"%d %s" % (len(data), data)  # octet counting: RFC 6587, RFC 5425
        for fresh in (False, True):
            try:
                wire = self._connected(fresh)
                wire.sendall(data)
                return
            except OSError as error:
                self.close()
                if fresh:
                    raise DeliveryFailed(f"syslog: {error.strerror or error}") from None

    def close(self) -> None:
        if self._wire is not None:
            self._wire.close()
            self._wire = None

    def _connected(self, fresh: bool) -> socket.socket:
        if fresh:
            self.close()
        if self._wire is None:
            self._wire = self._connect()
        return self._wire

    def _connect(self) -> socket.socket:
        if self._way == "unix":
            wire = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
            wire.settimeout(WAIT_S)
            wire.connect(self._host)
            return wire
        if self._way == "udp":
            family = socket.getaddrinfo(self._host, self._port, type=socket.SOCK_DGRAM)[0][0]
            wire = socket.socket(family, socket.SOCK_DGRAM)
            wire.settimeout(WAIT_S)
            wire.connect((self._host, self._port))
            return wire
        wire = socket.create_connection((self._host, self._port), timeout=WAIT_S)
        if self._way == "tls":
            context = ssl.create_default_context()
            return context.wrap_socket(wire, server_hostname=self._host)
        return wire


def rfc5424(message: Message, facility: int, hostname: str, pid: int) -> str:
    """One syslog message: header, structured data, text with its byte order mark."""
    priority = facility * 8 + severity(message)
    fields = {
        "id": message.about,
        "no": str(message.number),
        "occurrence": str(message.occurrence),
        "prio": message.priority.label,
        "state": message.state,
        "event": message.event,
        "rule": message.rule,
        "subject": message.subject,
        "value": "" if message.value is None else f"{message.value:g}",
        "limit": "" if message.limit is None else f"{message.limit:g}",
        "unit": message.unit,
        "drill": "yes" if message.drill else "",
    }
    data = " ".join(f'{key}="{_escape(value)}"' for key, value in fields.items() if value)
    return (
        f"<{priority}>1 {message.at} {hostname} shipkeeper {pid} {_name(message.event, 32)} "
        f"[alert@{ENTERPRISE} {data}] \ufeff{_plain(message.title)}: {_plain(message.text)}"
    )


def severity(message: Message) -> int:
    """By priority while unanswered, notice when handled, info when over."""
    if message.state == State.NORMAL:
        return INFO
    if message.state == State.UNKNOWN:
        return ERROR
    if message.state in (State.UNACKNOWLEDGED, State.ACTIVE):
        return SEVERITIES[message.priority]
    return NOTICE


def _escape(value: str) -> str:
    """RFC 5424 6.3.3: quote, backslash and bracket are escaped in a value."""
    text = _plain(value)
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("]", "\\]")


def _plain(text: str) -> str:
    return "".join(c if c.isprintable() else " " for c in text)


def _name(text: str, most: int) -> str:
    """Printable US-ASCII without spaces, or the nil value."""
    kept = "".join(c for c in text if 33 <= ord(c) <= 126)
    return kept[:most] or "-"


def _parts(address: str) -> tuple[str, str, int]:
    """(way, host or path, port)."""
    if address.startswith("/"):
        return "unix", address, 0
    way, _, rest = address.partition(":")
    host, _, port = rest.rpartition(":")
    if way not in ("udp", "tcp", "tls") or not host or not 0 < int(port) < 65_536:
        raise ValueError(address)
    return way, host.strip("[]"), int(port)
