"""Syslog to real receivers on loopback: UDP, TCP, TLS, and a socket like /dev/log."""

from __future__ import annotations

import queue
import ssl
import subprocess
import threading
import time
from pathlib import Path

import pytest
from tests.peers import SyslogTcp, SyslogUdp, SyslogUnix
from tests.peers.between import Between
from tests.peers.messages import message

from shipkeeper.outlets.syslog import Syslog, SyslogSender, parts
from shipkeeper.words.wires import DeliveryFailed


def test_udp_and_the_local_socket_get_one_datagram(tmp_path: Path) -> None:
    """The whole line, no count before it."""
    for receiver in (SyslogUdp(), SyslogUnix(tmp_path / "log")):
        sender = SyslogSender(Syslog(address=receiver.address))
        sender.deliver(message())
        assert receiver.next().startswith(b"<26>1 2026-06-12T02:13:45.000Z ")
        sender.close()
        receiver.close()


def test_tcp_counts_octets_and_keeps_its_connection() -> None:
    """RFC 6587 3.4.1, also with characters of more than one byte."""
    receiver = SyslogTcp()
    sender = SyslogSender(Syslog(address=receiver.address))
    for number in range(20):
        sender.deliver(message(number, title=f"NÄHE {number}"))
    got = [receiver.next() for _ in range(20)]
    assert all(f"NÄHE {n}".encode() in raw for n, raw in enumerate(got))
    assert len(receiver.connections) == 1
    sender.close()
    receiver.close()


def test_a_restarted_receiver_misses_nothing_that_counted() -> None:
    """A connection that was closed is noticed before it is written to."""
    receiver = SyslogTcp()
    sender = SyslogSender(Syslog(address=receiver.address))
    sender.deliver(message(1))
    receiver.next()
    port = receiver.port
    receiver.close()
    with pytest.raises(DeliveryFailed, match="refused"):
        sender.deliver(message(2))
    again = SyslogTcp(port)
    sender.deliver(message(2))
    assert b'no="2"' in again.next()
    again.hang_up()
    time.sleep(0.05)
    sender.deliver(message(3))
    assert b'no="3"' in again.next()
    sender.close()
    again.close()


def test_a_forwarder_that_takes_it_and_hangs_up_has_not_delivered_it() -> None:
    """As one does whose receiver is away: the bytes are acknowledged by its machine, and lost."""
    receiver = SyslogTcp()
    with Between(receiver.port) as between:
        between.turn("refuse")
        sender = SyslogSender(Syslog(address=f"tcp:127.0.0.1:{between.port}"))
        for _ in range(5):
            with pytest.raises(DeliveryFailed):
                sender.deliver(message(1))
        between.turn("pass")
        sender.deliver(message(1))
        assert b'no="1"' in receiver.next()
        sender.close()
    receiver.close()


def test_what_a_receiver_took_and_never_read_goes_again() -> None:
    """It acknowledges the bytes, reads none and falls: over the next line all of it comes, once,
    under the same `msg`; after an orderly end of the line nothing comes twice."""
    receiver = SyslogTcp()
    with Between(receiver.port) as between:
        sender = SyslogSender(Syslog(address=f"tcp:127.0.0.1:{between.port}"))
        between.turn("hang")
        for number in (1, 2, 3):
            sender.deliver(message(number))
        between.turn("pass")
        sender.deliver(message(4))
        got = [receiver.next() for _ in range(4)]
        assert [f'no="{n}"'.encode() in raw for n, raw in zip((1, 2, 3, 4), got, strict=True)]
        sender.close()
    sender = SyslogSender(Syslog(address=receiver.address))
    sender.deliver(message(5))
    receiver.next()
    receiver.hang_up()
    time.sleep(0.05)
    sender.deliver(message(6))
    assert b'no="6"' in receiver.next()
    sender.close()
    receiver.close()


def test_lines_that_break_one_after_another_lose_nothing() -> None:
    """Each took some hundreds and what was unread of the one before, and read none."""
    receiver, sent = SyslogTcp(), iter(range(1, 1000))
    with Between(receiver.port) as between:
        sender = SyslogSender(Syslog(address=f"tcp:127.0.0.1:{between.port}"))
        for _ in range(3):
            between.turn("hang")
            for _ in range(200):
                sender.deliver(message(next(sent)))
        between.turn("pass")
        sender.deliver(message(next(sent)))
        for number in range(1, 602):
            assert f'no="{number}"'.encode() in receiver.next()
        sender.close()
    receiver.close()


def test_one_started_anew_says_what_the_one_before_may_not_have_got_through() -> None:
    receiver = SyslogTcp()
    with Between(receiver.port) as between:
        orders = Syslog(address=f"tcp:127.0.0.1:{between.port}")
        first, second = SyslogSender(orders), SyslogSender(orders)
        between.turn("hang")
        first.deliver(message(1))
        between.turn("pass")
        first.close()
        second.follow(first)
        second.deliver(message(2))
        assert b'no="1"' in receiver.next()
        assert b'no="2"' in receiver.next()
        second.close()
    receiver.close()


def test_a_slow_receiver_gets_on_with_what_a_broken_line_lost() -> None:
    """More than it takes within one deadline: the line stands, and the rest follows."""
    receiver = SyslogTcp(pause_s=0.02)
    with Between(receiver.port) as between:
        sender = SyslogSender(Syslog(address=f"tcp:127.0.0.1:{between.port}"))
        between.turn("hang")
        for number in range(1, 301):
            sender.deliver(message(number, text="x" * 1500))
        between.turn("pass")
        slow = SyslogSender(Syslog(address=receiver.address), wait_s=1.0)
        slow.follow(sender)
        tries = 1
        while True:
            try:
                slow.deliver(message(301))
                break
            except DeliveryFailed as failed:
                assert "slow" in str(failed)
                tries += 1
        assert tries > 1
        for number in range(1, 302):
            assert f'no="{number}"'.encode() in receiver.next()
        slow.close()
    receiver.close()


def test_one_that_takes_nothing_is_given_up() -> None:
    """A deaf receiver's buffers fill up; then what is sent does not count as delivered."""
    receiver = SyslogTcp(deaf=True)
    sender = SyslogSender(Syslog(address=receiver.address), wait_s=0.5)
    before = time.monotonic()
    with pytest.raises(DeliveryFailed):
        for number in range(2000):
            sender.deliver(message(number, text="x" * 6000))
    assert time.monotonic() - before < 10
    sender.close()
    receiver.close()


def test_a_line_that_breaks_while_its_receiver_takes_nothing_is_found_at_once() -> None:
    """Not only when the wait for the acknowledgement is over."""
    deaf = SyslogTcp(deaf=True)
    sender = SyslogSender(Syslog(address=deaf.address), wait_s=20.0)
    for number in range(3):
        sender.deliver(message(number))
    failed: list[Exception] = []

    def fill() -> None:
        try:
            for number in range(2000):
                sender.deliver(message(number, text="x" * 6000))
        except DeliveryFailed as error:
            failed.append(error)

    filling = threading.Thread(target=fill)
    filling.start()
    time.sleep(1.0)
    began_s = time.monotonic()
    deaf.close()
    filling.join(30.0)
    assert failed and time.monotonic() - began_s < 10.0
    sender.close()


def test_a_local_socket_that_is_not_there_is_a_failure(tmp_path: Path) -> None:
    """And is found when it comes back."""
    path = tmp_path / "log"
    sender = SyslogSender(Syslog(address=str(path)))
    with pytest.raises(DeliveryFailed, match="No such file"):
        sender.deliver(message())
    receiver = SyslogUnix(path)
    sender.deliver(message())
    receiver.next()
    receiver.close()
    path.unlink()
    receiver = SyslogUnix(path)  # the logger was restarted: another socket, the same name
    sender.deliver(message(2))
    assert b'no="2"' in receiver.next()
    sender.close()
    receiver.close()


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate of our own for 127.0.0.1, by the openssl of the machine."""
    folder = tmp_path_factory.mktemp("tls")
    cert, key = folder / "cert.pem", folder / "key.pem"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
         "-nodes", "-days", "2", "-subj", "/CN=log.curlew.example", "-keyout", str(key),
         "-addext", "subjectAltName=IP:127.0.0.1", "-out", str(cert)],
        check=True, capture_output=True,
    )  # fmt: skip
    return cert, key


def test_tls_is_verified(certificate: tuple[Path, Path]) -> None:
    """A receiver whose certificate is trusted gets the line; any other gets nothing."""
    cert, key = certificate
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(cert, key)
    receiver = SyslogTcp(tls=context)
    sender = SyslogSender(Syslog(address=receiver.address, ca=str(cert)))
    for number in range(3):
        sender.deliver(message(number))
        assert f'no="{number}"'.encode() in receiver.next()
    sender.close()
    stranger = SyslogSender(Syslog(address=receiver.address))
    with pytest.raises(DeliveryFailed, match="not trusted"):
        stranger.deliver(message())
    with pytest.raises(queue.Empty):
        receiver.next(0.2)
    receiver.close()


@pytest.mark.parametrize(
    ("address", "expected"),
    [
        ("/dev/log", ("unix", "/dev/log", 0)),
        ("udp:127.0.0.1:514", ("udp", "127.0.0.1", 514)),
        ("tls:[::1]:6514", ("tls", "::1", 6514)),
    ],
)
def test_addresses_are_read(address: str, expected: tuple[str, str, int]) -> None:
    """Way, host, port."""
    assert parts(address) == expected


@pytest.mark.parametrize("address", ["", "udp", "udp:host", "udp::514", "ftp:host:1", "tcp:h:0"])
def test_what_is_no_address_is_refused(address: str) -> None:
    """With a ValueError, for `check`."""
    with pytest.raises(ValueError):  # int() and parts() word it each in their way
        parts(address)
