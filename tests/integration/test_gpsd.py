"""inputs/gpsd.py against Debian's real gpsd, fed through a pseudo terminal.

What is taken from it is compared with what went into the terminal: the sentences' own numbers.
"""

from __future__ import annotations

import math
import os
import subprocess
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from shipkeeper.feed.decode import Decoder
from shipkeeper.feed.framing import Framer
from shipkeeper.inputs.gpsd import GpsdInput, GpsdWorker, sentences
from shipkeeper.words.observations import (
    AisReport,
    FixQuality,
    Heading,
    Observation,
    Position,
    PositionInvalid,
    UtcTime,
    Velocity,
)
from shipkeeper.words.sentence import lat_lon, sentence

from ..peers import PtyPair
from ..peers.broker import answers, free_port, program

LAT, LON = 57.10001, -5.20002
# A class A report of an example ship: AIVDM examples of the feed's own tests.
AIS = "!AIVDM,1,1,,B,177KQJ5000G?tO`K>RA1wUbN0TKH,0*5C"  # from the documentation of AIVDM/AIVDO


class Gpsd:
    """One run of gpsd with a control socket of its own."""

    def __init__(self, folder: Path, device: Path, port: int) -> None:
        self.port = port
        control = folder / "control"
        self._process = subprocess.Popen(
            [program("gpsd", "gpsd"), "-N", "-n", "-S", str(port), "-F", str(control),
             str(device)],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        answers(port)
        self._control, self._device = control, device

    def udev(self, sign: str) -> None:
        """What udev's rule has gpsdctl say: a device came (+) or went (-)."""
        import socket

        with socket.socket(socket.AF_UNIX) as wire:
            wire.settimeout(5)
            wire.connect(str(self._control))
            wire.sendall(f"{sign}{self._device}\r\n".encode())
            assert wire.recv(16).startswith(b"OK")

    def stop(self) -> None:
        self._process.terminate()
        self._process.wait(30)


class Sink:
    """InputSink of words.wires: decodes as the daemon would."""

    def __init__(self) -> None:
        self.news_: list[tuple[bool, str]] = []
        self.facts: list[Observation] = []
        self.bad: list[str] = []
        self._framer, self._decoder = Framer(), Decoder()

    def data(self, chunk: bytes, *, whole: bool = False) -> None:
        for line in self._framer.feed(chunk, whole):
            heard = self._decoder.decode(time.monotonic(), "gpsd", line)
            self.facts += heard.observations
            if heard.verdict == "bad":
                self.bad.append(line)

    def news(self, up: bool, why: str = "") -> None:
        self.news_.append((up, why))

    def wait(self, kind: type[Any], within_s: float = 60.0) -> Any:
        """The next fact of a kind, from now on."""
        start, edge = len(self.facts), time.monotonic() + within_s
        while time.monotonic() < edge:
            for fact in self.facts[start:]:
                if isinstance(fact, kind):
                    return fact
            time.sleep(0.02)
        raise AssertionError((kind, self.facts[-5:], self.news_))

    def wait_news(self, up: bool, part: str = "", within_s: float = 60.0) -> str:
        edge = time.monotonic() + within_s
        while not (self.news_ and self.news_[-1][0] is up and part in self.news_[-1][1]):
            assert time.monotonic() < edge, self.news_
            time.sleep(0.02)
        return self.news_[-1][1]


class Receiver:
    """A GNSS receiver on the terminal, five fixes a second, each a second later."""

    def __init__(self, pair: PtyPair) -> None:
        self._pair, self._stop = pair, threading.Event()
        self.valid = True
        self._second = 0
        self._thread = threading.Thread(target=self._send)
        self._thread.start()

    def _send(self) -> None:
        while not self._stop.wait(0.2):
            self._second += 1
            clock = f"02{self._second // 60 % 60:02d}{self._second % 60:02d}.00"
            place = lat_lon(LAT, LON)
            gga, gsa, rmc = (
                f"GPGGA,{clock},{place},1,09,1.1,12.0,M,48.0,M,,",
                "GPGSA,A,3,01,02,03,04,05,06,07,08,09,,,,1.9,1.1,1.5",
                f"GPRMC,{clock},A,{place},1.94,90.0,120626,,,A",
            )
            if not self.valid:  # as receivers write it that see no sky
                gga, gsa = f"GPGGA,{clock},,,,,0,00,,,M,,M,,", "GPGSA,A,1,,,,,,,,,,,,,,,"
                rmc = f"GPRMC,{clock},V,,,,,,,120626,,,N"
            lines = [
                sentence(gga),
                sentence(gsa),
                sentence(rmc),
                sentence(f"GPGST,{clock},1.5,,,,2.10,1.20,4.0"),
                sentence("GPGSV,1,1,02,01,40,083,46,02,17,308,41"),
                sentence("HCHDT,123.4,T"),
                AIS,
            ]  # fmt: skip
            try:
                self._pair.send(("\r\n".join(lines) + "\r\n").encode())
            except OSError:
                continue  # unplugged

    def stop(self) -> None:
        self._stop.set()
        self._thread.join()


@contextmanager
def reading(port: int) -> Iterator[Sink]:
    sink, stop = Sink(), threading.Event()
    worker = GpsdWorker("127.0.0.1", port)
    thread = threading.Thread(target=worker.run, args=(sink, stop))
    thread.start()
    try:
        yield sink
    finally:
        stop.set()
        thread.join(5)
        assert not thread.is_alive()


def open_to_gpsd(pair: PtyPair) -> None:
    """gpsd gives up its rights; on a boat its group owns the port."""
    os.chmod(os.path.realpath(pair.path), 0o666)  # noqa: PTH101  # of the link's target


def test_position_loss_of_fix_of_the_device_and_of_gpsd_itself(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One night in small: fixes as they were sent; a lost fix is told as none; a receiver that
    is unplugged is a wire down by name, and comes back; so does gpsd after a restart."""
    monkeypatch.setattr("shipkeeper.inputs.gpsd.NO_REPORT_S", 3.0)
    with PtyPair(folder / "gnss") as pair:
        open_to_gpsd(pair)
        receiver = Receiver(pair)
        gpsd = Gpsd(folder, pair.path, free_port())
        try:
            with reading(gpsd.port) as sink:
                position = sink.wait(Position)
                assert abs(position.lat - LAT) < 2e-7
                assert abs(position.lon - LON) < 2e-7
                velocity = sink.wait(Velocity)
                assert velocity.speed_ms == pytest.approx(1.94 * 1852 / 3600, abs=0.01)
                assert velocity.course_deg == pytest.approx(90.0, abs=0.1)
                assert sink.wait(UtcTime).second_of_day >= 7200
                assert sink.wait(Heading).heading_deg == 123.4
                assert sink.wait(AisReport).mmsi == 477553000
                told = [f for f in sink.facts if isinstance(f, FixQuality)]
                assert {f.hdop for f in told} >= {1.1}, told
                assert math.hypot(2.10, 1.20) == pytest.approx(
                    next(f.sigma_m for f in told if f.sigma_m is not None), abs=0.01
                )
                assert sink.news_[-1] == (True, "")
                assert sink.bad == []
                receiver.valid = False
                sink.wait(PositionInvalid)
                receiver.valid = True
                sink.wait(Position)
                pair.unplug()
                sink.wait_news(False, "passed nothing on")
                gpsd.udev("-")
                pair.plug()
                open_to_gpsd(pair)
                gpsd.udev("+")
                sink.wait(Position)
                assert sink.news_[-1] == (True, "")
                gpsd.udev("-")
                assert "gnss" in sink.wait_news(False, "lost")
                gpsd.udev("+")
                sink.wait(Position)
                assert sink.news_[-1] == (True, "")
                gpsd.stop()
                sink.wait_news(False, "gpsd at 127.0.0.1")
                gpsd = Gpsd(folder, pair.path, gpsd.port)
                sink.wait(Position)
                assert sink.news_[-1] == (True, "")
        finally:
            gpsd.stop()
            receiver.stop()


@pytest.fixture
def folder() -> Iterator[Path]:
    """One that gpsd may look into after it has given up its rights."""
    with tempfile.TemporaryDirectory() as made:
        Path(made).chmod(0o755)
        yield Path(made)


def decoded(lines: list[str]) -> list[Observation]:
    decoder = Decoder()
    return [fact for line in lines for fact in decoder.decode(0.0, "x", line).observations]


TPV: dict[str, Any] = {"class": "TPV", "device": "/dev/x", "mode": 3, "lat": LAT, "lon": LON,
                       "time": "2026-06-12T02:13:45.000Z"}  # fmt: skip


@pytest.mark.parametrize(
    "changes",
    [
        {"mode": 1},
        {"mode": None},
        {"mode": "3"},
        {"lat": None},
        {"lat": 95.0},
        {"lon": float("nan")},
        {"lat": True},
        {"status": 6},
        {"status": 8},
    ],
)
def test_what_is_no_fix_is_told_as_none(changes: dict[str, Any]) -> None:
    """Never a position of zero, of a dead reckoning or of a simulator."""
    facts = decoded(sentences({**TPV, **changes}, {"hdop": 1.0}))
    assert any(isinstance(fact, PositionInvalid) for fact in facts)
    assert not any(isinstance(fact, Position) for fact in facts)


def test_what_lacks_stays_absent() -> None:
    """No speed, no time, no errors: a position and nothing made up."""
    facts = decoded(sentences({k: v for k, v in TPV.items() if k != "time"}, {}))
    assert [type(fact) for fact in facts] == [Position]


@pytest.mark.parametrize(
    ("said", "down"),
    [
        (b"\xff\xfe{\n", None),
        (b'["TPV"]\n{"class":"TPV"}\n', True),
        (b'{"class":"DEVICES","devices":[]}\n', False),
        (b'{"class":"ERROR","message":"no such device"}\n', False),
        (b'{"class":"DEVICES","devices":[7,{"path":null}]}\n', False),
    ],
)
def test_whatever_a_peer_says_nothing_raises(said: bytes, down: bool | None) -> None:
    import socket

    with socket.create_server(("127.0.0.1", 0)) as server:
        with reading(server.getsockname()[1]) as sink:
            peer, _ = server.accept()
            with peer:
                peer.recv(200)
                peer.sendall(said)
                if down is not None:
                    sink.wait_news(down)
                else:
                    edge = time.monotonic() + 5
                    while not sink.bad and time.monotonic() < edge:
                        time.sleep(0.01)
                    assert sink.bad
        assert all(isinstance(up, bool) for up, _ in sink.news_)


def test_an_address_that_cannot_be_meant() -> None:
    assert GpsdInput(name="x", gpsd="localhost").problems()
    assert not GpsdInput(name="x", gpsd="localhost:2947").problems()
