"""outlets/nmea.py on real sockets and a pty: changes, lists, heartbeats, answers."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Literal

import msgspec
import pytest

from shipkeeper.outlets.nmea import UNSEEN_S, Nmea, NmeaOutlet, NmeaSender
from shipkeeper.words.alert import AlertRecord, State
from shipkeeper.words.effects import Show
from shipkeeper.words.sentence import body_of, sentence
from shipkeeper.words.wires import Aboard

from ...peers import PtyPair
from ...peers.messages import record, show, wanted


class Bridge:
    """Takes commands and answers as told."""

    def __init__(self) -> None:
        self.code = 0
        self.heard: list[tuple[str, dict[str, Any], str, str]] = []

    def obey(
        self,
        verb: str,
        args: dict[str, Any],
        *,
        who: str,
        where: Literal["aboard", "ashore"],
        through: str,
        **signed: Any,
    ) -> tuple[int, str]:
        assert who.startswith("bus ")
        self.heard.append((verb, args, where, through))
        return self.code, ""


def shown(*alerts: AlertRecord) -> Show:
    return msgspec.structs.replace(show(), alerts=alerts)


class Listener:
    """One client of the server: reads sentences until it has what it waits for."""

    def __init__(self, port: int) -> None:
        self.wire = socket.create_connection(("127.0.0.1", port), timeout=5)
        self.file = self.wire.makefile("r", newline="")

    def next(self, kind: str) -> list[str]:
        while True:
            line = self.file.readline()
            assert line.endswith("\r\n") and len(line) <= 82
            body = body_of(line)
            assert body is not None
            if body[2:5] == kind:
                return body.split(",")

    def say(self, body: str) -> None:
        self.wire.sendall((sentence(body) + "\r\n").encode())

    def close(self) -> None:
        self.file.close()
        self.wire.close()


@contextmanager
def serving(bridge: Bridge | None = None, **orders: Any) -> Iterator[NmeaSender]:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        port = probe.getsockname()[1]
    made = Nmea(listen=f"127.0.0.1:{port}", **orders)
    aboard = Aboard("Marren", bridge.obey) if bridge else None
    sender = NmeaSender(made, aboard, cycle_s=0.3)
    with closing(sender):
        edge = time.monotonic() + 5
        while not sender.port:
            assert time.monotonic() < edge
            time.sleep(0.01)
        yield sender


def test_a_listener_gets_what_stands_and_each_change() -> None:
    """Feature 40 of the checklist: whoever connects late has the present state at once. A
    cleared alert is told as N with the next revision; the list and the heartbeat come round."""
    with serving() as sender:
        sender.show(wanted("alarm"), shown(record(3, revision=1, title="DRAGGING", kind="drag")))
        with closing(Listener(sender.port)) as late:
            first = late.next("ALF")
            assert first[6:11] == ["W", "V", "", "10010", "3"]
            assert late.next("ALC")[4:] == ["1", "", "10010", "3", "1"]
            beat, after = late.next("HBT"), late.next("HBT")
            assert beat[1:3] == ["0.3", "A"]
            assert int(after[3]) == (int(beat[3]) + 1) % 10
            quiet = record(3, revision=2, kind="drag", state=State.ACKNOWLEDGED)
            sender.show(wanted("silence"), shown(quiet))
            while late.next("ALF")[7] != "A":
                pass
            sender.show(wanted("silence"), shown())
            while (over := late.next("ALF"))[7] != "N":
                pass
            assert over[11] == "3"
            while late.next("ALC")[4] != "0":
                pass


def test_it_says_when_the_watch_itself_has_stopped(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing shown any more: the heartbeat's status is V."""
    monkeypatch.setattr("shipkeeper.outlets.nmea.STALLED_S", 0.5)
    with serving() as sender, closing(Listener(sender.port)) as listener:
        sender.show(wanted("silence"), shown())
        assert listener.next("HBT")[2] == "A"
        while listener.next("HBT")[2] != "V":
            pass


def test_commands_are_obeyed_or_refused_with_arc() -> None:
    """ACN A, S, O, Q and the older ACK; what the engine refuses, or what is none of ours, is
    answered with ARC; damaged ones and other makers' are passed over."""
    bridge = Bridge()
    with (
        serving(bridge, commands=True, sentences="both") as sender,
        closing(Listener(sender.port)) as other,
    ):
        sender.show(wanted("alarm"), shown(record(3, revision=1, kind="drag", id="drag")))
        other.next("ALF")
        other.wire.sendall(b"$IIACN,,,10010,3,A,C*00\r\n\xff\xfe$$$\r\n")
        other.say("IIACN,,XYZ,10010,3,A,C")
        other.say("IIACN,,,10010,3,A,C")
        other.say("IIACN,,,10010,3,S,C")
        other.say("IIACN,,,10010,3,O,C")  # no heartbeat of a taker yet
        assert other.next("ARC")[2:] == ["", "10010", "3", "O"]
        other.say("IIHBT,30.0,A,1")
        other.say("IIACN,,,10010,3,O,C")
        other.say("IIACK,003")
        other.say("IIACN,,,10010,99,A,C")
        assert other.next("ARC")[2:] == ["", "10010", "99", "A"]
        bridge.code = 2
        other.say("IIACN,,,10010,3,A,C")
        assert other.next("ARC")[2:] == ["", "10010", "3", "A"]
        other.say("IIACN,,,10010,3,Q,C")
        assert other.next("ALF")[10] == "3"
    assert [(verb, args.get("id")) for verb, args, _, _ in bridge.heard] == [
        ("ack", "drag"),
        ("silence", "drag"),
        ("heartbeat", None),
        ("transfer", "drag"),
        ("ack", "drag"),
        ("ack", "drag"),
    ]
    assert {(where, through) for _, _, where, through in bridge.heard} == {("aboard", "nmea")}


def test_an_answer_is_for_the_occurrence_that_was_told() -> None:
    """Checklist 9: ACN names an alert, and no occurrence of it. It is bound to what was told
    here last; and when the alert has just come anew, it was meant for the one before: ARC."""
    bridge = Bridge()
    with serving(bridge, commands=True) as sender, closing(Listener(sender.port)) as other:
        first = record(3, revision=102, kind="drag", occurrence=1)
        sender.show(wanted("alarm"), shown(first))
        other.next("ALF")
        other.say("IIACN,,,10010,3,A,C")  # at once: nobody can have meant another
        _wait(lambda: len(bridge.heard) == 1)
        assert bridge.heard[0][1] == {"id": first.id, "occurrence": 1, "seen": 102}
        sender.show(wanted("silence"), shown())
        while other.next("ALF")[7] != "N":
            pass
        again = record(3, revision=110, kind="drag", occurrence=2)
        sender.show(wanted("alarm"), shown(again))
        while other.next("ALF")[7] != "V":
            pass
        other.say("IIACN,,,10010,3,A,C")
        assert other.next("ARC")[3:] == ["10010", "3", "A"]
        assert len(bridge.heard) == 1
        time.sleep(UNSEEN_S)
        other.say("IIACN,,,10010,3,A,C")
        _wait(lambda: len(bridge.heard) == 2)
        assert bridge.heard[1][1] == {"id": first.id, "occurrence": 2, "seen": 110}


def _wait(found: Callable[[], bool]) -> None:
    edge_s = time.monotonic() + 5
    while not found():
        assert time.monotonic() < edge_s
        time.sleep(0.01)


def test_nothing_is_obeyed_unless_the_orders_say_so() -> None:
    bridge = Bridge()
    with serving(bridge) as sender, closing(Listener(sender.port)) as other:
        sender.show(wanted("alarm"), shown(record(3, kind="drag", id="drag")))
        other.next("ALF")
        other.say("IIACN,,,10010,3,A,C")
        other.say("IIACK,003")
        other.next("HBT")
        other.next("HBT")
    assert bridge.heard == []


def test_a_client_that_does_not_read_holds_up_nobody(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its buffer full, it is cut off; the other goes on hearing."""
    monkeypatch.setattr("shipkeeper.outlets.buses.SEND_S", 0.05)
    with serving() as sender, closing(socket.socket()) as deaf:
        deaf.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        deaf.connect(("127.0.0.1", sender.port))
        with closing(Listener(sender.port)) as good:
            stop = threading.Event()

            def flood() -> None:
                n = 0
                while not stop.is_set():
                    n += 1
                    many = (record(i, revision=n, text="x" * 60) for i in range(1, 200))
                    sender.show(wanted("alarm"), shown(*many))
                    stop.wait(0.02)

            thread = threading.Thread(target=flood)
            thread.start()
            try:
                for _ in range(3000):
                    good.next("ALF")
            finally:
                stop.set()
                thread.join()


def test_a_serial_port_both_ways_and_its_loss(tmp_path: Path) -> None:
    """A pty stands in for the port; taken away it is told, brought back it goes on."""
    bridge = Bridge()
    with PtyPair(tmp_path / "port") as pair:
        sender = NmeaSender(
            Nmea(serial=str(pair.path), baud=4800, commands=True),
            Aboard("Marren", bridge.obey),
            cycle_s=0.3,
        )
        with closing(sender):
            sender.show(wanted("alarm"), shown(record(3, kind="drag", id="drag")))
            assert _until(pair, b"ALF,2,1")
            pair.send((sentence("IIACN,,,10010,3,S,C") + "\r\n").encode())
            assert _until(pair, b"HBT")
            edge = time.monotonic() + 5
            while not bridge.heard and time.monotonic() < edge:
                time.sleep(0.01)
            assert bridge.heard[0][0] == "silence"
            pair.unplug()
            while (stands := sender.link()) is None or stands[0]:
                assert time.monotonic() < edge + 10
                time.sleep(0.05)
            pair.plug()
            assert _until(pair, b"ALF,2,1")


def _until(pair: PtyPair, part: bytes) -> bool:
    import os
    import select

    seen, edge = b"", time.monotonic() + 8
    while part not in seen and time.monotonic() < edge:
        if select.select([pair._master], [], [], 0.2)[0]:
            seen += os.read(pair._master, 4096)
    return part in seen


def test_udp_goes_out_line_by_line() -> None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as receiver:
        receiver.bind(("127.0.0.1", 0))
        receiver.settimeout(5)
        orders = Nmea(udp=f"127.0.0.1:{receiver.getsockname()[1]}")
        sender = NmeaSender(orders, None, cycle_s=0.3)
        with closing(sender):
            sender.show(wanted("alarm"), shown(record(3, kind="drag")))
            assert body_of(receiver.recv(200).decode()) is not None


@pytest.mark.parametrize(
    ("orders", "key"),
    [
        ({}, "nmea"),
        ({"udp": "192.0.2.255:10110", "listen": "127.0.0.1:10111"}, "nmea"),
        ({"listen": "10111"}, "nmea.listen"),
        ({"udp": "192.0.2.255:10110", "commands": True}, "nmea.commands"),
        ({"serial": "/dev/ttyS1", "maker": "ABCD"}, "nmea.maker"),
    ],
)
def test_orders_that_cannot_be_meant(orders: dict[str, Any], key: str) -> None:
    found = NmeaOutlet(name="bridge", nmea=Nmea(**orders)).problems()
    assert [where for where, _ in found] == [key]
