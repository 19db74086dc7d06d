"""UDP datagrams of sentences: plain, or as IEC 61162-450 has them; unicast or a group."""

from __future__ import annotations

import ipaddress
import socket
import struct
import threading
from typing import ClassVar

from ..words.address import bad_address, host_port
from ..words.orders import InputTable
from ..words.wires import InputSink, InputWorker
from .backoff import Backoff

READ_WAIT_S = 0.5


class UdpInput(InputTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`udp = "address:port"`: the address to listen on, or a multicast group to join."""

    kind: ClassVar[str] = "udp"

    udp: str

    def problems(self) -> list[tuple[str, str]]:
        return bad_address("udp", self.udp, host_needed=False)

    def worker(self) -> InputWorker:
        return UdpWorker(*host_port(self.udp, "0.0.0.0"))


class UdpWorker:
    """Listens; a datagram is whole, so a line ends with it."""

    def __init__(self, host: str, port: int) -> None:
        self._host, self._port = host, port

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
                while not stop.is_set():
                    try:
                        sink.data(receiver.recv(65_535), whole=True)
                    except TimeoutError:
                        continue
                    except OSError as error:
                        sink.news(False, f"stopped listening: {error.strerror}")
                        break
            if not stop.is_set():
                backoff.wait(stop)

    def _open(self) -> socket.socket:
        receiver = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        receiver.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        receiver.settimeout(READ_WAIT_S)
        try:
            receiver.bind((self._host, self._port))
            if _is_group(self._host):
                group = socket.inet_aton(self._host)
                member = struct.pack("4sL", group, socket.INADDR_ANY)
                receiver.setsockopt(socket.IPPROTO_IP, socket.IP_ADD_MEMBERSHIP, member)
        except OSError:
            receiver.close()
            raise
        return receiver


def _is_group(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_multicast
    except ValueError:
        return False
