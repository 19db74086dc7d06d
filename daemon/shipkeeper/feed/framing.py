"""Bytes as they come from a wire, cut into lines: sentence candidates and runs of junk.

A wire brings shards, binary between sentences, sentences cut short and two run together.
Rules of this file:
- a line ends with CR, LF, both, or its datagram; how the bytes were chopped up on the way
  never changes what comes out;
- in a line, `$` and `!` begin a sentence (both are reserved: no sentence holds them
  inside), with any whole TAG blocks directly in front of it; a sentence ends with its
  checksum, or else where the next one begins;
- all that is left is junk, handed on too: it is counted, and the recording keeps it; only
  a logger's stamp before a sentence and what a shore station adds after a comma behind it
  are no junk, and dropped;
- framing a framed line again gives that same line, so a recording replays as it was live.

Nothing is judged here. Memory is bounded by LONGEST; no bytes ever raise.
"""

from __future__ import annotations

import re

LONGEST = 1024  # bytes held back for a line's end; TAG blocks and sentence are well below
JUNK = 256  # junk, and sentences without a checksum, come in pieces of at most this

_HEADER = b"UdPbC\x00"  # IEC 61162-450: datagram of sentences (from memory of the standard)
_BINARY_HEADERS = (b"RaUdP\x00", b"RrUdP\x00")  # its binary files: no sentences in them

_WHOLE = re.compile(rb'[$!][ "#%-)+-\[\]-~]*\*[0-9A-Fa-f]{2}').fullmatch
_CANDIDATE = re.compile(
    rb"(?:\\[^\\$!]*\*[0-9A-Fa-f]{2}\\){0,8}"  # TAG blocks; {0,8}+ is wrong in Python 3.11.2
    rb"[$!][^$!\\*]*+(?:\*[0-9A-Fa-f]{2}|[^$!\\]*+)"
)
_STAMP = re.compile(rb"[0-9][0-9T:.Z+/ \t-]{7,39}").fullmatch
_ADDED = re.compile(rb",[ -~]*").fullmatch
# All that cannot be printed is shown as '?', a tab as a blank.
_PRINTABLE = bytes(c if 0x20 <= c < 0x7F else 0x20 if c == 0x09 else 0x3F for c in range(256))


class Framer:
    """One per input; not shared. Holds at most LONGEST bytes."""

    __slots__ = ("_rest",)

    def __init__(self) -> None:
        self._rest = b""

    def feed(self, chunk: bytes, whole: bool = False) -> list[str]:
        """Lines that are complete with this chunk. `whole`: a datagram, so it ends a line."""
        if whole and chunk.startswith(_BINARY_HEADERS):
            return []
        data = self._rest + chunk if self._rest else chunk
        lines = data.replace(b"\r", b"\n").split(b"\n")
        rest = lines.pop()
        out: list[str] = []
        for line in lines:
            if _WHOLE(line):
                out.append(line.decode("ascii"))
            elif line:
                self._odd(line, out)
        while len(rest) > LONGEST:
            rest = self._overlong(rest, out)
        if whole and rest:
            self._odd(rest, out)
            rest = b""
        self._rest = rest
        return out

    def _odd(self, line: bytes, out: list[str]) -> None:
        """A line that is not simply one sentence."""
        while len(line) > LONGEST:
            line = self._overlong(line, out)
        if _HEADER in line:
            line = line.replace(_HEADER, b"")
        _pieces(line, out)

    def _overlong(self, line: bytes, out: list[str]) -> bytes:
        """No line's end in LONGEST bytes: give out what surely is over, return the rest.

        The last candidate may go on, so the cut is before it; a sentence is never cut.
        """
        head = line[:LONGEST]
        cut = LONGEST
        for match in _CANDIDATE.finditer(head):
            if match.start() > 0:
                cut = match.start()
        _pieces(head[:cut].replace(_HEADER, b""), out)
        return line[cut:]


def _pieces(line: bytes, out: list[str]) -> None:
    """Candidates of a line, and the junk before, between and after them."""
    done = 0
    for match in _CANDIDATE.finditer(line):
        start, end = match.span()
        if start > done and (done or not _STAMP(line[:start])):
            _junk(line[done:start], out)
        piece = line[start:end]
        if piece[-3:-2] == b"*":
            out.append(piece.translate(_PRINTABLE).decode("ascii"))
        else:
            _junk(piece, out)
        done = end
    if done < len(line) and not (done and _ADDED(line, done)):
        _junk(line[done:], out)


def _junk(run: bytes, out: list[str]) -> None:
    text = run.translate(_PRINTABLE).decode("ascii")
    for start in range(0, len(text), JUNK):
        piece = text[start : start + JUNK].strip()
        if piece:
            out.append(piece)
