"""Serial, TCP and UDP inputs on a real pty and real sockets: gone, back, half dead, shared."""

from __future__ import annotations

import contextlib
import errno
import os
import socket
import struct
from pathlib import Path

import pytest
from tests.peers import PtyPair, SentenceServer
from tests.unit.inputs.hearing import at_work

from shipkeeper.inputs.serial import SerialInput, SerialWorker
from shipkeeper.inputs.tcp import TcpInput, TcpWorker
from shipkeeper.inputs.udp import UdpInput, UdpWorker

GROUP = "239.192.0.1"  # the first group of IEC 61162-450 ('MISC', from memory)


def test_a_serial_device_that_vanishes_and_comes_back(tmp_path: Path) -> None:
    """Unplugged and plugged in again under another number: told, and read again."""
    with PtyPair(tmp_path / "port") as port, at_work(SerialWorker(str(port.path), 4800)) as heard:
        heard.until_told(True)
        port.send(b"$before\r\n")
        heard.until_heard(b"$before\r\n")
        port.unplug()
        heard.until_told(False, "is gone")
        heard.until_told(False, "cannot be opened: No such file")
        port.plug()
        heard.until_told(True, times=2)
        port.send(b"$after\r\n")
        heard.until_heard(b"$after\r\n")


@pytest.mark.parametrize("baud", [4800, 38_400, 115_200, 250_000])
def test_any_baud_rate_opens(baud: int, tmp_path: Path) -> None:
    """Odd ones, too."""
    with PtyPair(tmp_path / "port") as port, at_work(SerialWorker(str(port.path), baud)) as heard:
        heard.until_told(True)


def test_a_tcp_server_that_hangs_up_and_goes_and_comes_back() -> None:
    """Each is told in words, and the wire comes back by itself."""
    with SentenceServer() as server, at_work(TcpWorker("127.0.0.1", server.port)) as heard:
        server.wait()
        server.send(b"$one\r\n")
        heard.until_heard(b"$one\r\n")
        server.hang_up()
        heard.until_told(False, "closed the connection")
        server.wait()
        server.go()
        heard.until_told(False, "does not answer")
        server.back()
        server.wait()
        server.send(b"$two\r\n")
        heard.until_heard(b"$two\r\n")


def test_a_tcp_connection_that_says_nothing_is_taken_for_dead_and_made_anew() -> None:
    """Half open: the other end lost its power and never said so."""
    with SentenceServer() as server, at_work(TcpWorker("127.0.0.1", server.port, 0.6)) as heard:
        heard.until_told(False, "has said nothing")
        server.wait(2)
        server.send(b"$anew\r\n")
        heard.until_heard(b"$anew\r\n")


def test_the_kernel_is_told_to_ask_whether_a_quiet_server_lives(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """tcp(7): TCP_KEEPIDLE + TCP_KEEPCNT * TCP_KEEPINTVL, under a minute in all."""
    wires: list[socket.socket] = []
    connect = socket.create_connection

    def watched(address: tuple[str, int], timeout: float) -> socket.socket:
        wires.append(connect(address, timeout=timeout))
        return wires[-1]

    monkeypatch.setattr(socket, "create_connection", watched)
    with SentenceServer() as server, at_work(TcpWorker("127.0.0.1", server.port)) as heard:
        server.wait()
        server.send(b"$one\r\n")
        heard.until_heard(b"$one\r\n")
        assert wires[0].getsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE)
        idle, every, count = (
            wires[0].getsockopt(socket.IPPROTO_TCP, option)
            for option in (socket.TCP_KEEPIDLE, socket.TCP_KEEPINTVL, socket.TCP_KEEPCNT)
        )
        assert idle + every * count <= 60


def free_port() -> int:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def test_datagrams_are_whole() -> None:
    """Each is handed on by itself: a line ends with its datagram."""
    port = free_port()
    with (
        at_work(UdpWorker("127.0.0.1", port)) as heard,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender,
    ):
        heard.until_told(True)
        sender.sendto(b"$one", ("127.0.0.1", port))
        sender.sendto(b"UdPbC\0\\s:GP0001*4F\\$two\r\n", ("127.0.0.1", port))
        heard.until_heard(b"$two")
        assert heard.datagrams == [b"$one", b"UdPbC\0\\s:GP0001*4F\\$two\r\n"]


def groups() -> list[str]:
    """The groups that this machine is a member of, from the kernel's own list (proc(5))."""
    found = []
    for line in Path("/proc/net/igmp").read_text().splitlines():
        if line.startswith("\t"):
            packed = struct.pack("=I", int(line.split()[0], 16))
            found.append(socket.inet_ntoa(packed))
    return found


def test_a_group_is_joined_on_every_network_and_left_at_the_end() -> None:
    """On loopback as well, where this test sends."""
    port = free_port()
    with at_work(UdpWorker(GROUP, port)) as heard:
        heard.until_told(True)
        assert GROUP in groups()
        send_to_group(port, b"$grouped\r\n")
        heard.until_heard(b"$grouped")
    assert GROUP not in groups()


def test_a_group_that_is_silent_is_joined_anew_without_ado(monkeypatch: pytest.MonkeyPatch) -> None:
    """A network that went and came forgets who listened; nothing is told, nothing lost."""
    from shipkeeper.inputs import udp

    joins: list[str] = []
    join = udp._join

    def counted(receiver: socket.socket, host: str) -> None:
        joins.append(host)
        join(receiver, host)

    monkeypatch.setattr(udp, "_join", counted)
    port = free_port()
    with at_work(UdpWorker(GROUP, port, rejoin_s=0.3)) as heard:
        heard.until_told(True)
        for _ in range(100):
            if len(joins) > 1:
                break
            send_to_group(port, b"")  # also lets time pass
            with contextlib.suppress(AssertionError):
                heard.until_heard(b"never", within_s=0.7)
        assert len(joins) > 1
        send_to_group(port, b"$again\r\n")
        heard.until_heard(b"$again")
        assert heard.told == [(True, "")]


def send_to_group(port: int, data: bytes) -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as sender:
        sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton("127.0.0.1"))
        sender.sendto(data, (GROUP, port))


def test_a_port_that_is_taken_is_told_in_words() -> None:
    """SO_REUSEADDR lets groups be shared, but not an address of our own that is held alone."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other:
        other.bind(("127.0.0.1", 0))
        port = other.getsockname()[1]
        with at_work(UdpWorker("127.0.0.1", port)) as heard:
            heard.until_told(False, os.strerror(errno.EADDRINUSE))


@pytest.mark.parametrize(
    "table",
    [
        TcpInput(name="a", tcp="10110"),
        TcpInput(name="a", tcp="host:99999"),
        TcpInput(name="a", tcp="host:"),
        UdpInput(name="a", udp="[ff02::1]:10110"),
        UdpInput(name="a", udp="0.0.0.0"),
    ],
)
def test_bad_addresses_are_problems(table: TcpInput | UdpInput) -> None:
    """With the key and what was expected."""
    [(key, text)] = table.problems()
    assert key in ("tcp", "udp") and text.startswith("expected")


def test_good_addresses_are_none() -> None:
    """Also a serial port, which needs no check beyond its type."""
    assert TcpInput(name="a", tcp="[::1]:10110").problems() == []
    assert UdpInput(name="a", udp="239.192.0.1:60001").problems() == []
    assert UdpInput(name="a", udp="10110").problems() == []
    assert SerialInput(name="a", serial="/dev/ttyUSB0").problems() == []
