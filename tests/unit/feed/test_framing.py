"""Framing: every sound sentence found, whatever is before, between and behind it."""

from __future__ import annotations

import pytest
from tests.unit.feed.said import every_way

from shipkeeper.feed.framing import JUNK, LONGEST, Framer

A = "$GPHDT,274.07,T*03"
B = "$INDPT,2.3,0.0*46"
V = "!AIVDM,1,1,,A,15RTgt0PAso;90TKcjM8h6g208CQ,0*4A"
TAG = "\\s:GP0001,n:123*17\\"
GROUP = "\\g:1-2-73874,n:157036,s:r003669945,c:1241544035*4A\\"

CASES: list[tuple[str, bytes, list[str]]] = [
    ("CR LF", f"{A}\r\n{B}\r\n".encode(), [A, B]),
    ("LF alone", f"{A}\n{V}\n".encode(), [A, V]),
    ("CR alone", f"{A}\r{B}\r".encode(), [A, B]),
    ("empty lines", f"\r\n\r\n{A}\r\n\n\n".encode(), [A]),
    ("two sentences on one line", f"{A}{V}\r\n".encode(), [A, V]),
    ("three on one line with blanks", f"{A}  {V} {B}\r\n".encode(), [A, V, B]),
    ("a cut sentence before a good one", f"$GPRMC,0930{A}\r\n".encode(), ["$GPRMC,0930", A]),
    ("a cut AIS sentence before a good one", f"{V[:30]}{V}\r\n".encode(), [V[:30], V]),
    ("a cut checksum before a good one", f"{A[:-1]}{B}\r\n".encode(), [A[:-1], B]),
    ("a lost start", f"{A[3:]}\r\n{B}\r\n".encode(), [A[3:], B]),
    ("binary before", b"\x00\xff\x80zz" + f"{A}\r\n".encode(), ["???zz", A]),
    ("binary after", f"{A}".encode() + b"\x00\xff\x80\r\n", [A, "???"]),
    ("binary between, no line's end", f"{A}".encode() + b"\xa0\xa1" + f"{B}\n".encode(),
     [A, "??", B]),
    ("binary inside", b"$GPH\x80DT,274.07,T*03\r\n", ["$GPH?DT,274.07,T*03"]),
    ("start characters in binary", b"\x01!\x02$\x03" + f"{A}\n".encode(),
     ["?", "!?", "$?", A]),
    ("TAG block", f"{TAG}{A}\r\n".encode(), [TAG + A]),
    ("two TAG blocks", f"{GROUP}{TAG}{V}\r\n".encode(), [GROUP + TAG + V]),
    ("two tagged sentences on one line", f"{TAG}{A}{GROUP}{V}\r\n".encode(),
     [TAG + A, GROUP + V]),
    ("a damaged TAG block", f"\\s:GP0001,n:12{A}\r\n".encode(), ["\\s:GP0001,n:12", A]),
    ("a cut TAG block before a whole one", f"\\s:GP0{TAG}{A}\r\n".encode(),
     ["\\s:GP0", TAG + A]),
    ("a tail of a TAG block", f"1:23*17\\{A}\r\n".encode(), ["1:23*17\\", A]),
    ("a TAG block alone", f"{TAG}\r\n".encode(), [TAG]),
    ("no checksum", b"$GPGLL,2200.097,S,01756.346,W\r\n", ["$GPGLL,2200.097,S,01756.346,W"]),
    ("a logger's stamp before", f"2014-08-01T00:00:00.285000Z {A}\n".encode(), [A]),
    ("a UNIX stamp before", f"1406851200.285 {A}\n".encode(), [A]),
    ("what a shore station adds", f"{V},r003669945,1241544035\r\n".encode(), [V]),
    ("450 header in a stream", b"UdPbC\x00" + f"{TAG}{A}\r\n".encode(), [TAG + A]),
    ("blanks only", b"   \r\n\t\r\n", []),
]  # fmt: skip


@pytest.mark.parametrize(("data", "lines"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_lines_are_the_same_however_the_bytes_come(data: bytes, lines: list[str]) -> None:
    """Whole, byte by byte, in shards and with trailing data: the same lines."""
    assert every_way(data) == lines


@pytest.mark.parametrize("data", [c[1] for c in CASES], ids=[c[0] for c in CASES])
def test_framing_a_framed_line_gives_the_same_line(data: bytes) -> None:
    """The recording keeps framed lines: replayed, they must come out as they went in."""
    for line in Framer().feed(data):
        assert Framer().feed(line.encode() + b"\r\n") == [line]


def test_a_line_is_given_only_when_it_has_ended() -> None:
    """The rest of a sentence may still come."""
    framer = Framer()
    assert framer.feed(A[:9].encode()) == []
    assert framer.feed(A[9:].encode()) == []
    assert framer.feed(b"\r") == [A]
    assert framer.feed(b"\n") == []


def test_a_datagram_ends_its_line() -> None:
    """IEC 61162-450 header stripped; no CR LF needed; what was begun does not leak over."""
    framer = Framer()
    assert framer.feed(b"UdPbC\x00" + f"{TAG}{A}".encode(), whole=True) == [TAG + A]
    assert framer.feed(f"{A}\r\n{B}".encode(), whole=True) == [A, B]
    assert framer.feed(b"$GPHDT,27", whole=True) == ["$GPHDT,27"]
    assert framer.feed(b"4.07,T*03\r\n", whole=True) == ["4.07,T*03"]


def test_binary_files_of_the_network_are_no_lines() -> None:
    """IEC 61162-450 sends images under headers of their own (from memory)."""
    assert Framer().feed(b"RaUdP\x00" + bytes(range(256)), whole=True) == []


def test_junk_comes_in_pieces_and_memory_is_bounded() -> None:
    """A wrong baud rate for an hour is many short lines, not one long string."""
    framer = Framer()
    lines = [line for _ in range(200) for line in framer.feed(b"\x9fabc" * 250)]
    assert lines
    assert max(len(line) for line in lines) <= JUNK
    assert len(framer._rest) <= LONGEST


@pytest.mark.parametrize("before", [0, 1, 500, 985, 995, 1005, 1006, 1007, 1020, 1023, 1024, 3000])
def test_a_sentence_in_an_endless_line_is_found(before: int) -> None:
    """No line's end for kilobytes: sentences are found where they are, never cut in two."""
    data = b"\x80" * before + f"{TAG}{A}".encode() + b"\x80" * 2500 + f"{V}\r\n".encode()
    found = every_way(data)
    assert [line[-len(A) :] for line in found if line.endswith(A)] == [A]
    assert found[-1] == V


def test_a_sentence_without_an_end_is_cut_like_junk() -> None:
    """A start character and then kilobytes of print."""
    lines = every_way(b"$" + b"A" * 3000 + f"{A}\n".encode())
    assert all(len(line) <= JUNK for line in lines)
    assert lines[-1] == A
