"""Recordings read back as events: TAG-blocked, plain or gzipped, one or several together.

A line with a TAG block is stamped by its `c:` (seconds or milliseconds) and named by its
`s:`. Lines that begin with '#' are the recorder's own: a header with the orders and the
remembered state that a watch began from, and the events that are no sentences. A plain log
is stamped by its own RMC, ZDA and GGA; a log without any time at ten lines a second, since
there is nothing better to go by. Stamps never go back: the recording is the clock.
"""

from __future__ import annotations

import gzip
import heapq
import io
import itertools
import re
import zlib
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import IO

import msgspec

from ..feed.checksum import HEX, xor8
from ..feed.framing import Framer
from ..feed.tagblock import MS_ABOVE, Tag, split_tag, split_tags
from ..words.alert import AlertRecord
from ..words.events import Event, Line

NO_DATE = datetime(2000, 1, 1, tzinfo=UTC).timestamp()  # a plain log that never tells its date
UNTIMED_STEP_S = 0.1
DAY_S = 86_400.0
LOOKED_AT = 2000  # lines without a sentence, and it is taken for something else


class Header(msgspec.Struct, kw_only=True, omit_defaults=True):
    """What a recording of ours begins with: enough to rehearse it exactly."""

    format: int = 1
    started_s: float = 0.0
    begins_run: bool = True  # False: the daemon was running, and only the file is new
    orders: str = ""
    inputs: tuple[str, ...] = ()
    alerts: tuple[AlertRecord, ...] = ()
    state: dict[str, bytes] = {}
    last_alive_s: float | None = None
    next_number: int = 1
    gap_s: float | None = None


class Recording:
    """One file. `header` is read at once; events on iteration.

    OSError when it cannot be read; ValueError when a header is there and cannot be.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self.header: Header | None = None
        self.bytes = path.stat().st_size
        self.read_bytes = 0  # of these, while events are read: for a progress bar
        self.sources: frozenset[str] = frozenset()  # named near its beginning, by `first_s`
        self.torn = False  # it ended in mid-block: what came before counts
        with _open(path)[0] as lines:
            first = lines.readline()
        if first.startswith("# header "):
            try:
                self.header = msgspec.json.decode(first[len("# header ") :], type=Header)
            except msgspec.DecodeError as error:
                raise ValueError(f"{path.name}: its header is damaged: {error}") from None

    def events(self) -> Iterator[Event]:
        """Every event of the file in order of its stamps."""
        lines, raw = _open(self.path)
        with lines:
            stem = self.path.name.split(".")[0]
            for count, event in enumerate(_events(self, lines, stem)):
                if not count & 0xFFF:
                    self.read_bytes = raw.tell()
                yield event
        self.read_bytes = self.bytes

    def first_s(self) -> float | None:
        """The stamp of its first event; None when no sentence is found near its beginning."""
        events = list(itertools.islice(self.events(), LOOKED_AT))
        self.sources = frozenset(e.input for e in events if type(e) is Line)
        return events[0].at_s if any(_is_sentence(e) for e in events) else None

    def last_s(self) -> float | None:
        """The stamp of its last event. The whole file is read for it."""
        last = None
        for event in self.events():
            last = event.at_s
        self.read_bytes = 0
        return last


def _is_sentence(event: Event) -> bool:
    return type(event) is not Line or event.text.lstrip()[:1] in ("$", "!", "\\")


def merged(recordings: Sequence[Recording]) -> Iterator[Event]:
    """Several recordings as one stream; at equal stamps in the order given."""
    if len(recordings) == 1:
        return recordings[0].events()
    return heapq.merge(*(r.events() for r in recordings), key=lambda event: event.at_s)


def _open(path: Path) -> tuple[IO[str], IO[bytes]]:
    """(its text, the file below it): what it is, is told by its first bytes, not by its name."""
    raw = path.open("rb")
    packed = raw.read(2) == b"\x1f\x8b"
    raw.seek(0)
    if packed:
        unpacked = _Unpacked(fileobj=raw, mode="rb")
        return io.TextIOWrapper(unpacked, encoding="latin-1", newline="\n"), raw
    return io.TextIOWrapper(raw, encoding="latin-1", newline="\n"), raw


class _Unpacked(gzip.GzipFile):
    """Closes the file below it too, which gzip leaves open."""

    def close(self) -> None:
        below = self.fileobj_below
        super().close()
        below.close()

    def __init__(self, *, fileobj: IO[bytes], mode: str) -> None:
        self.fileobj_below = fileobj
        super().__init__(fileobj=fileobj, mode=mode)


def _events(of: Recording, lines: IO[str], stem: str) -> Iterator[Event]:
    ours = of.header is not None
    clock = _Clock()
    framer = Framer()
    last_s = float("-inf")
    waiting: list[Line] = []  # lines before the log's first own time
    known, known_s, known_source = "", 0.0, ""
    try:
        for raw in lines:
            # Nearly every line: one block with source and time, then a whole sentence. It is
            # read here in a fraction of the time; what is odd takes the long way below.
            plain = _PLAIN(raw)
            if plain is not None:
                block, body, source, stamp, given, sentence = plain.groups()
                if block == known:
                    yield Line(known_s, known_source, sentence)
                    continue
                if xor8(body.encode("ascii")) == HEX[given]:
                    value = float(stamp)
                    if value > MS_ABOVE:
                        value /= 1000.0
                    known, known_source = block, source
                    known_s = last_s = max(last_s, round(value, 3))
                    yield Line(known_s, known_source, sentence)
                    continue
            line = raw.rstrip("\r\n")
            known = ""
            if line.startswith("#"):
                event = _own_event(line)
                if event is not None:
                    yield event
                continue
            for text in [line] if ours else framer.feed((line + "\r\n").encode("latin-1")):
                tag, sentence = _recorders_tag(text) if ours else split_tags(text)
                if tag.time_s is not None:
                    last_s = max(last_s, round(tag.time_s, 3))
                    yield Line(last_s, tag.source or stem, sentence)
                    continue
                source = tag.source or stem
                told = clock.told(sentence)
                if told is not None:
                    for early in waiting:
                        yield Line(told, early.input, early.text)
                    waiting.clear()
                    last_s = max(last_s, told)
                if last_s == float("-inf"):
                    waiting.append(Line(0.0, source, sentence))
                    continue
                yield Line(last_s, source, sentence)
    except (EOFError, zlib.error, gzip.BadGzipFile):
        of.torn = True  # as after a power cut
    for count, early in enumerate(waiting):
        yield Line(round(NO_DATE + count * UNTIMED_STEP_S, 3), early.input, early.text)


_PLAIN = re.compile(
    r"(\\(s:([A-Za-z0-9_ .:/+-]+),c:([0-9]{10,15}))\*([0-9A-Fa-f]{2})\\)"
    r'([$!][ "#%-)+-\[\]-~]*\*[0-9A-Fa-f]{2})[\r\n]*'
).fullmatch


def _recorders_tag(text: str) -> tuple[Tag, str]:
    """The recorder's own block; those that the device sent stay in the line, as live."""
    tag, rest = split_tag(text)
    return (Tag(), text) if tag is None else (tag, rest)


def _own_event(line: str) -> Event | None:
    if not line.startswith("# event "):
        return None
    try:
        event: Event = msgspec.json.decode(line[len("# event ") :], type=Event)
        return event
    except msgspec.DecodeError:
        return None  # torn by a power cut


class _Clock:
    """The time that a plain log tells of itself."""

    def __init__(self) -> None:
        self.midnight: float | None = None
        self._last_of_day: float | None = None

    def told(self, sentence: str) -> float | None:
        """UNIX seconds when this sentence moves the log's time on, else None."""
        kind = sentence[3:6]
        if kind not in ("RMC", "ZDA", "GGA"):
            return None
        fields = sentence.partition("*")[0].split(",")
        of_day = _of_day(fields[1]) if len(fields) > 1 else None
        if of_day is None:
            return None
        date = None
        if kind == "RMC" and len(fields) > 9:
            date = _date(fields[9][0:2], fields[9][2:4], fields[9][4:6])
        elif kind == "ZDA" and len(fields) > 4:
            date = _date(fields[2], fields[3], fields[4])
        if date is not None:
            self.midnight = date
        elif self.midnight is None:
            self.midnight = NO_DATE
        elif self._last_of_day is not None and of_day < self._last_of_day - DAY_S / 2:
            self.midnight += DAY_S
        self._last_of_day = of_day
        return round(self.midnight + of_day, 3)


def _of_day(text: str) -> float | None:
    if len(text) < 6 or not text[:6].isdigit():
        return None
    try:
        seconds = float(text[4:])
    except ValueError:
        return None
    hours, minutes = int(text[0:2]), int(text[2:4])
    if hours > 23 or minutes > 59 or not 0 <= seconds < 61:
        return None
    return hours * 3600 + minutes * 60 + seconds


def _date(day: str, month: str, year: str) -> float | None:
    if not (day.isdigit() and month.isdigit() and year.isdigit()):
        return None
    full = int(year) if len(year) == 4 else 2000 + int(year) if int(year) < 69 else 1900 + int(year)
    try:
        return datetime(full, int(month), int(day), tzinfo=UTC).timestamp()
    except ValueError:
        return None
