"""UDP datagrams of sentences: plain, or as IEC 61162-450 has them; unicast or a group."""

from __future__ import annotations

import contextlib
import ipaddress
import socket
import struct
import threading
import time
from typing import ClassVar

from ..words.address import bad_address, host_port
from ..words.orders import InputTable
from ..words.wires import InputSink, InputWorker
from .backoff import Backoff

READ_WAIT_S = 0.5
# A group that has been silent for so long is joined anew: a membership is lost when a network
# goes down and comes back, and a network that came later never had one.
REJOIN_S = 30.0


class UdpInput(InputTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`udp = "address:port"`: the address to listen on, or a multicast group to join."""

    kind: ClassVar[str] = "udp"

    udp: str

    def problems(self) -> list[tuple[str, str]]:
        found = bad_address("udp", self.udp, host_needed=False)
        if not found and ":" in host_port(self.udp)[0]:
            found = [("udp", f'expected an IPv4 address; found "{self.udp}"')]
        return found

    def worker(self) -> InputWorker:
        return UdpWorker(*host_port(self.udp, "0.0.0.0"))


class UdpWorker:
    """Listens; a datagram is whole, so a line ends with it."""

    def __init__(self, host: str, port: int, rejoin_s: float = REJOIN_S) -> None:
        self._host, self._port, self._rejoin_s = host, port, rejoin_s

    def run(self, sink: InputSink, stop: threading.Event) -> None:
        backoff = Backoff()
        while not stop.is_set():
            try:
                receiver = self._open()
            except OSError as error:
                sink.news(False, f"cannot listen on {self._host}:{self._port}: {error.strerror}")
                backoff.wait(stop)
                continue
            with receiver:
                sink.news(True)
                backoff.reset()
                why = self._listen(receiver, sink, stop)
            if not stop.is_set():
                sink.news(False, f"stopped listening: {why}")
                backoff.wait(stop)

    def _listen(self, receiver: socket.socket, sink: InputSink, stop: threading.Event) -> str:
        """Until stopped, or the socket fails: why it did."""
        heard_s = time.monotonic()
        while not stop.is_set():
            try:
                data = receiver.recv(65_535)
            except TimeoutError:
                if time.monotonic() - heard_s >= self._rejoin_s and _is_group(self._host):
                    heard_s = time.monotonic()
                    try:
                        _join(receiver, self._host)
                    except OSError as error:
                        return str(error.strerror)
            except OSError as error:
                return str(error.strerror)
            else:
                heard_s = time.monotonic()
                sink.data(data, whole=True)
        return "stopped"

    def _open(self) -> socket.socket:
        receiver = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        receiver.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        receiver.settimeout(READ_WAIT_S)
        try:
            receiver.bind((self._host, self._port))
            if _is_group(self._host):
                _join(receiver, self._host)
        except OSError:
            receiver.close()
            raise
        return receiver


def _join(receiver: socket.socket, host: str) -> None:
    """Join a group on every network that there is: nobody says which one it comes from. One
    that was joined before is left first, so that the network hears of us again. Raises
    OSError when none can be joined."""
    group, failed = socket.inet_aton(host), OSError("no network")
    joined = 0
    for number, _ in socket.if_nameindex():
        member = struct.pack("4s4si", group, b"\0\0\0\0", number)  # struct ip_mreqn, ip(7)
        with contextlib.suppress(OSError):
            receiver.setsockopt(socket.IPPROTO_IP, socket.IP_DROP_MEMBERSHIP, member)
        try:
            receiver.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, member)
            joined += 1
        except OSError as error:
            failed = error
    if not joined:
        raise failed


def _is_group(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_multicast
    except ValueError:
        return False
