"""The recorder: every event that the engine was given, kept in files for rehearsals.

It stands behind the inbox, so what was dropped was never recorded either. A line is one
sentence with a TAG block of its source and stamp; events that are no lines, and the header
that tells what the watch began from, are lines that begin with '#'. `rehearse/recording.py`
reads it back, and the same engine then gives the same transitions.

A thread of its own, off the alarm path: the main thread only appends to a list. Written less
than once a minute (an SD card wears by writes) and waited for until the card has it, so a power
cut costs less than the last minute of the recording and nothing of the alerts. A new file each
day at noon UTC, when few sleep, and at `ROLL_BYTES`; closed files are gzipped, and the plain one
goes only when the card has the packed one; the oldest go when they are too old or too many.
"""

from __future__ import annotations

import gzip
import json
import os
import shutil
import threading
from collections.abc import Callable, Sequence
from pathlib import Path

import msgspec

from ..feed.tagblock import make_tag
from ..rehearse.recording import Header
from ..words.events import KEPT, Command, Event, Line, Tick
from ..words.timing import utc_text
from .clock import steady_s

FLUSH_EVERY_S = 50.0  # with the time it takes to write, under 60 s are lost by a power cut
ROLL_BYTES = 64_000_000
ROLL_SHARE = 8  # a file is at most this part of all that may be kept
MAX_WAITING = 200_000  # events held back while the disk stalls
NOON_S = 43_200.0
DAY_S = 86_400.0
SUFFIX = ".nmea"
# Questions change nothing in the engine; asking every second must not fill the recording.
QUESTIONS = frozenset({"status", "alerts", "targets", "measure"})


class Recorder:
    """Takes events on the main thread, writes them on its own (`run`)."""

    def __init__(
        self,
        folder: Path,
        header: Callable[[float], Header],
        *,
        keep_s: float,
        limit_bytes: float,
        flush_every_s: float = FLUSH_EVERY_S,
    ) -> None:
        self.folder = folder
        self.lost = 0  # events not kept, because the disk stalled
        self._header = header
        self._keep_s, self._limit_bytes = keep_s, limit_bytes
        self._flush_every_s = flush_every_s
        self._roll_bytes = min(ROLL_BYTES, limit_bytes / ROLL_SHARE)
        self._lock = threading.Lock()
        self._waiting: list[Event | Header] = []
        self._roll_s = float("-inf")  # engine time at which a new file begins
        self._bytes = 0  # roughly, in the file as taken by the main thread
        self._runs = 0

    # -- main thread -----------------------------------------------------------------------

    def take(self, event: Event) -> None:
        """Keep this event; called before the engine handles it."""
        if type(event) is not Line and not _is_kept(event):
            return
        if event.at_s >= self._roll_s or self._bytes >= self._roll_bytes:
            self.begin(self._header(event.at_s))
        self._bytes += len(event.text) + 40 if type(event) is Line else 200
        with self._lock:
            if len(self._waiting) >= MAX_WAITING:
                self.lost += 1
                return
            self._waiting.append(event)

    def end(self, at_s: float) -> None:
        """The watch ends here: without this a rehearsal would end at the last line."""
        with self._lock:
            self._waiting.append(Tick(at_s))

    def begin(self, header: Header) -> None:
        """A new file starts here, with this header."""
        noon_s = header.started_s - (header.started_s - NOON_S) % DAY_S
        self._roll_s, self._bytes = noon_s + DAY_S, 0
        with self._lock:
            self._waiting.append(header)

    # -- its own thread --------------------------------------------------------------------

    def run(self, stop: threading.Event) -> None:
        """Write now and then until told to stop, then write the rest. Raises OSError."""
        self._runs += 1
        if self._runs > 1:
            self._roll_s = float("-inf")  # after a failure: a new file, with a header of its own
        self.folder.mkdir(parents=True, exist_ok=True)
        # What an earlier run left open: by a power cut, perhaps torn; a reader copes.
        for path in sorted(self.folder.glob("*.part")):
            path.unlink()
        for path in sorted(self.folder.glob(f"*{SUFFIX}")):
            compress(path)
        with _Writer(self.folder) as writer:
            due_s = steady_s() + self._flush_every_s
            while True:
                stopping = stop.wait(min(1.0, self._flush_every_s))
                if stopping or steady_s() >= due_s:
                    due_s = steady_s() + self._flush_every_s
                    self._write(writer)
                if stopping:
                    return

    def _write(self, writer: _Writer) -> None:
        with self._lock:
            batch, self._waiting = self._waiting, []
        try:
            for item in batch:
                if isinstance(item, Header):
                    closed = writer.open(item)
                    if closed is not None:
                        compress(closed)
                    room = self._limit_bytes - self._roll_bytes  # for the one that begins
                    prune(self.folder, item.started_s - self._keep_s, room)
                else:
                    writer.add(item)
            writer.sync()
        except OSError:
            self.lost += len(batch)
            raise


class _Writer:
    """The file being written."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._path: Path | None = None
        self._chunks: list[str] = []
        self._tags: tuple[str, float, str] = ("", -1.0, "")

    def __enter__(self) -> _Writer:
        return self

    def __exit__(self, *_: object) -> None:
        self.sync()

    def open(self, header: Header) -> Path | None:
        """Begin a file; returns the one before, now complete."""
        self.sync()
        before = self._path
        stamp = utc_text(header.started_s).replace("-", "").replace(":", "").replace(".", "-")
        self._path = _free(self._folder / f"{stamp}{SUFFIX}")
        self._chunks.append(f"# header {_json(header)}\n")
        return before

    def add(self, event: Event) -> None:
        if self._path is None:
            return  # after a failure, until the next header
        if type(event) is Line:
            source, at_s, tag = self._tags
            if source != event.input or at_s != event.at_s:
                tag = make_tag(event.input, event.at_s)
                self._tags = (event.input, event.at_s, tag)
            self._chunks.append(f"{tag}{event.text}\n")
        else:
            self._chunks.append(f"# event {_json(event)}\n")

    def sync(self) -> None:
        """Append what was added, and wait until the disk has it."""
        if self._path is None or not self._chunks:
            return
        data = "".join(self._chunks).encode("ascii", "replace")
        self._chunks.clear()
        fresh = not self._path.exists()
        with self._path.open("ab") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if fresh:
            _sync_folder(self._folder)


def compress(path: Path) -> Path:
    """A closed file becomes .gz, whole or not at all, whenever the power goes."""
    packed = path.with_name(path.name + ".gz")
    part = path.with_name(path.name + ".part")
    with path.open("rb") as plain, gzip.open(part, "wb", compresslevel=6) as out:
        shutil.copyfileobj(plain, out)
    with part.open("rb") as file:
        os.fsync(file.fileno())
    part.rename(packed)
    _sync_folder(path.parent)
    path.unlink()
    return packed


def _sync_folder(folder: Path) -> None:
    """A new name in a folder lasts only when the folder itself is written."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def prune(folder: Path, oldest_s: float, limit_bytes: float) -> Sequence[Path]:
    """Delete recordings that began before `oldest_s`, then the oldest above the limit."""
    edge = utc_text(oldest_s).replace("-", "").replace(":", "").replace(".", "-")
    files = sorted(folder.glob(f"*{SUFFIX}.gz"))
    sizes = {path: path.stat().st_size for path in files}
    total = sum(sizes.values()) + sum(p.stat().st_size for p in folder.glob(f"*{SUFFIX}"))
    gone = []
    for path in files:
        if path.name >= edge and total <= limit_bytes:
            break
        path.unlink()
        total -= sizes[path]
        gone.append(path)
    return gone


def _json(struct: msgspec.Struct) -> str:
    """One line of plain ASCII: recordings are read byte by byte, whatever a name holds."""
    return json.dumps(msgspec.to_builtins(struct), separators=(",", ":"))


def _is_kept(event: Event) -> bool:
    if isinstance(event, Command):
        return event.verb not in QUESTIONS
    return isinstance(event, KEPT)


def _free(path: Path) -> Path:
    """A name that is not taken: a restart within one millisecond, or a clock gone back."""
    count = 1
    free = path
    while free.exists() or free.with_name(free.name + ".gz").exists():
        count += 1
        free = path.with_name(f"{path.name.removesuffix(SUFFIX)}-{count}{SUFFIX}")
    return free
