"""app/listening: what is heard, and at which speed, on ptys that keep to a line's speed."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from demo import sentences
from tests.peers import PtyPair, SentenceServer
from tests.peers.uart import Uart, as_read

from shipkeeper.app.listening import Ear, listen_serial, listen_tcp, listen_to_all

BAUDS = (4800, 38400, 9600, 115200)
FIX = sentences.rmc(1_781_230_425.0, 57.1, -5.2, 0.1, 90.0)
DECK = [sentences.dpt(5.2, 0.6), sentences.mwv(10.0, 4.0, "T"), sentences.hdt(45.0)]
SHIP = sentences.ais_position(299_000_021, 57.1, -5.21, 0.0, 0.0)


def test_a_line_read_at_its_own_speed_is_read_and_at_another_is_not() -> None:
    """By hand: 'U' (0x55) is ten bits 0 1010 1010 1; at half the speed every other is seen."""
    data = FIX.encode()
    assert as_read(data, 4800, 4800) == data
    assert as_read(b"U", 9600, 9600) == b"U"
    for sent, read in ((4800, 38400), (38400, 4800), (9600, 4800), (4800, 9600)):
        assert FIX.encode()[:7] not in as_read(data * 5, sent, read)


@pytest.mark.parametrize("baud", BAUDS)
def test_the_speed_of_a_port_is_found(tmp_path: Path, baud: int) -> None:
    with Uart(tmp_path / "port", baud, [FIX]) as port:
        heard = listen_serial(str(port.path), 0.4, BAUDS)
    assert (heard.found, heard.baud, heard.what, heard.bad) == (
        "sentences", baud, ("position",), 0,
    )  # fmt: skip
    assert heard.kinds == ("RMC",)


def test_a_speed_that_is_not_tried_gives_noise_and_a_dead_line_silence(tmp_path: Path) -> None:
    """Two ports at the same time, and one that is none."""
    with (
        Uart(tmp_path / "odd", 57600, [FIX]) as odd,
        PtyPair(tmp_path / "dead") as dead,
    ):
        paths = [str(odd.path), str(dead.path), str(tmp_path / "gone")]
        heard = listen_to_all(paths, 0.3, (4800, 9600))
    assert [one.found for one in heard] == ["noise", "silence", "cannot be opened"]
    assert heard[0].baud is None and heard[0].what == ()
    assert "No such file" in heard[2].why


def test_a_port_that_another_program_reads_is_left_alone(tmp_path: Path) -> None:
    """To change its speed would blind the other, which may be the watch."""
    with Uart(tmp_path / "port", 4800, [FIX]) as port:
        code = f"f = open({str(port.path)!r}, 'rb'); print('open', flush=True); input()"
        other = subprocess.Popen(
            [sys.executable, "-c", code], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        try:
            assert other.stdout is not None and other.stdout.readline() == "open\n"
            before = port.read_baud
            heard = listen_serial(str(port.path), 0.2, (9600, 4800))
            assert port.read_baud == before
        finally:
            other.communicate("\n")
    assert heard.found == "in use" and f"({other.pid}) reads it" in heard.why


def test_everything_of_a_server_is_heard() -> None:
    import threading

    stop = threading.Event()
    with SentenceServer() as server:

        def talk() -> None:
            data = "".join(f"{line}\r\n" for line in [FIX, *DECK, *SHIP]).encode()
            while not stop.wait(0.05):
                server.send(data)

        thread = threading.Thread(target=talk)
        thread.start()
        heard = listen_tcp(f"127.0.0.1:{server.port}", 0.5)
        stop.set()
        thread.join()
    assert heard.what == ("position", "heading", "depth", "wind", "ais")
    assert set(heard.kinds) == {"RMC", "DPT", "MWV", "HDT", "VDM"}
    assert listen_tcp(f"127.0.0.1:{server.port}", 0.2).found == "cannot be opened"


def test_our_own_transponder_alone_is_no_ais_to_expect() -> None:
    """VDO is of our own ship: with no other vessel about, silence of VDM is no fault."""
    ear = Ear()
    own = sentences.ais_position(299_000_020, 57.1, -5.2, 0.0, 0.0, own=True)
    ear.feed(0.0, "".join(f"{line}\r\n" for line in own).encode())
    assert "ais" not in ear.told("tcp", "h:1", None).what
    ear.feed(1.0, "".join(f"{line}\r\n" for line in SHIP).encode())
    assert "ais" in ear.told("tcp", "h:1", None).what


def test_more_damage_than_sentences_is_no_speed() -> None:
    ear = Ear()
    ear.feed(0.0, (FIX + "\r\n").encode() + b"$GPRMC,1*00\r\n$GPRMC,2*00\r\n")
    assert (ear.good, ear.bad, ear.is_sound) == (1, 2, False)
