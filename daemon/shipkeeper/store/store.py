"""The store: SQLite, write-ahead log, every commit synced, one writer.

One batch of effects is one transaction: the alert as it stands, its line in the journal, and
the messages that must go out, together or not at all. A damaged file is set aside under
another name, never deleted, and the watch goes on with what could be read of it; that holds
at the start and in mid-watch.

A sign of life between commits is no commit: it is the time stamp of an empty file, set to the
engine's time. On a disk even that costs a block of the file system each time, 6 MB a day for a
stamp a minute; so where there is a folder in memory (/run) the stamp lives there, and the disk
has one every half hour. After a power cut the gap that is told may then begin too early, never
too late.

What SQLite has read once it need not read again, so that noise in the file would be found by the
next start alone. So with a commit, once a minute at most, and every half hour without one, the file
is looked over by a connection that has read nothing yet. (Not oftener: that a reader was there is
itself a page of the -shm file that changes.) A file made anew gets what is owed from memory
(owed.py), and the rest from the engine when it hears of it.

A commit that failed may be there all the same: where the disk wrote and then could not sync, the
log is whole, and whoever opens the file anew finds it. So what is tried again is first looked for
in the journal, whose lines are the only thing that could then stand twice.

The watch itself, its mark and its crew, is also kept in a small file beside: whatever befalls
the store, a boat that was watched is watched after the next start.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import threading
import zlib
from collections.abc import Iterator, Sequence
from pathlib import Path

import msgspec

from ..words.alert import AlertRecord
from ..words.effects import Effect, Keep, Message, Note, Record, Remember
from ..words.remembered import Remembered
from . import rows
from .files import (
    NewerStore,
    StoreFailed,
    connect,
    give_up,
    is_damage,
    look_over_anew,
    opened,
    set_aside,
    take_over,
)
from .owed import Owed

BEAT_EVERY_S = 60.0
DISK_BEAT_EVERY_S = 1800.0  # where the stamps of every minute are kept in memory
PRUNE_EVERY = 500  # commits
Line = Record | Note  # what the journal gets
WATCH = "watch"  # the named state without which nothing is watched
# After these a connection may stay as it is for good, though the disk is well again.
STICKY = frozenset({sqlite3.SQLITE_READONLY, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN})

_RECORD = msgspec.json.Decoder(AlertRecord)
_MESSAGE = msgspec.json.Decoder(Message)


class Store:
    """The daemon's one writer. May be called from any thread; one at a time is served."""

    def __init__(
        self,
        path: Path,
        connection: sqlite3.Connection,
        problems: tuple[str, ...],
        memory: Path | None = None,
    ) -> None:
        self.path = path
        self._db = connection
        self._lock = threading.Lock()
        self.problems = problems  # damage found at the start, or later
        self._beat_s = self._disk_beat_s = self._looked_s = float("-inf")
        self._commits = 0
        self._alive = path.with_name(path.name + ".alive")
        self._alive_in_memory = None if memory is None else memory / self._alive.name
        self._spare = path.with_name(f"{path.name}.{WATCH}")
        self._inode = _inode(path)
        self._closed = ""  # why there is no connection now
        self._owed = Owed()
        self._fresh = False  # the file was made anew, and what is owed is not yet in it
        self._tried: list[Line] = []  # of the commit that failed last, in doubt
        self._there: list[Line] = []  # of commits that failed, and were found to be there

    @classmethod
    def open(cls, path: Path, memory: Path | None = None) -> Store:
        """Open or make. A damaged file is set aside; StoreFailed when nothing can be made,
        NewerStore when a newer shipkeeper made it. memory: a folder that is on no disk."""
        try:
            connection, problems = opened(path)
            return cls(path, connection, tuple(problems), memory)
        except NewerStore as newer:
            raise NewerStore(f"{path}: {newer}") from None
        except (sqlite3.Error, OSError) as error:
            raise StoreFailed(f"{path}: {error}") from None

    def load(self) -> Remembered:
        """What an earlier run left."""
        with self._guard() as db:
            problems = list(self.problems)
            alerts: list[AlertRecord] = []
            for row_id, raw in db.execute("SELECT id, record FROM alerts ORDER BY id"):
                try:
                    alerts.append(_RECORD.decode(raw))
                except (ValueError, TypeError) as error:
                    problems.append(f"alert {row_id} in the store cannot be read: {error}")
            state: dict[str, bytes] = {}
            for key, raw in db.execute("SELECT * FROM state"):
                try:
                    state[str(key)] = rows.unpack(bytes(raw))
                except (zlib.error, TypeError):
                    problems.append(f"{key} in the store cannot be read: it is left out")
            meta = dict(db.execute("SELECT key, value FROM meta"))
        if WATCH not in state:
            with contextlib.suppress(OSError, ValueError):
                spare = self._spare.read_bytes()
                msgspec.json.decode(spare)  # noise is no watch
                state[WATCH] = spare
                problems.append("the watch was not in the store: it is that of its spare copy")
        number = max([int(meta.get("next_number", 1)), *(a.number + 1 for a in alerts)])
        with self._lock:
            self._owed.numbered(number - 1)
        return Remembered(
            alerts=tuple(alerts),
            state=state,
            last_alive_s=self._last_alive_s(meta.get("alive_s")),
            next_number=number,
            problems=tuple(problems),
        )

    def commit(self, effects: Sequence[Effect], at_s: float, paid: Sequence[str] = ()) -> None:
        """One transaction for all that is to be kept of a batch, and for the messages that were
        delivered meanwhile. Raises StoreFailed: the same effects are to be given again, and no
        line of theirs will be in the journal twice."""
        kept = rows.kept(effects)
        if not kept:
            if paid:
                self.delivered(paid)
            return
        self._still_whole(at_s, BEAT_EVERY_S)
        self._commits += 1
        written, unwritable = list[rows.Kept](), list[str]()
        try:
            with self._writing() as db:
                for effect in self._not_there(db, kept):
                    try:
                        rows.write(db, effect)
                        written.append(effect)
                    except rows.UNWRITABLE as error:
                        # It would fail each time again, and keep back all that comes after it.
                        unwritable.append(f"a row could not be written and is left out: {error}")
                rows.mark_alive(db, at_s)
                rows.paid(db, paid)
                if self._commits % PRUNE_EVERY == 0:
                    rows.prune(db, at_s)
                self._owed.took(written, paid)
        except StoreFailed:
            self._tried += [e for e in written if isinstance(e, Line)]  # none, if not begun
            raise
        self._tried, self._there = [], []
        self.problems = (*self.problems, *unwritable)
        for effect in kept:
            if isinstance(effect, Remember) and effect.key == WATCH:
                self._keep_spare(effect.value)
        self._disk_beat_s = at_s
        with contextlib.suppress(StoreFailed):  # it is committed, whatever the stamp does
            self._mark(self._alive_in_memory or self._alive, at_s)

    def beat(self, at_s: float) -> None:
        """A sign of life, at most once a minute, so that a gap can be told. Raises StoreFailed
        when the store's file is not where it was."""
        if abs(at_s - self._beat_s) < BEAT_EVERY_S:
            return
        self._still_there()
        self._still_whole(at_s, DISK_BEAT_EVERY_S)
        if self._alive_in_memory is not None:
            self._mark(self._alive_in_memory, at_s)
            if abs(at_s - self._disk_beat_s) < DISK_BEAT_EVERY_S:
                return
        self._disk_beat_s = at_s
        self._mark(self._alive, at_s)

    def pending(self, outlet: str | None, limit: int = 50) -> list[Message]:
        """Messages that the outlet (None: any) still owes, oldest first."""
        where, values = ("outlet = ?", [outlet]) if outlet is not None else ("1", list[str]())
        with self._guard() as db:
            found = db.execute(
                f"SELECT message FROM outbox WHERE {where} ORDER BY number LIMIT ?",
                [*values, limit],
            ).fetchall()
        messages = []
        for (raw,) in found:
            # One that this version cannot read must not keep back the others; its row stays.
            with contextlib.suppress(ValueError, TypeError):
                messages.append(_MESSAGE.decode(raw))
        with self._lock:
            self._owed.found(messages)
        return messages

    def waiting(self, outlet: str) -> int:
        with self._guard() as db:
            sql = "SELECT count(*) FROM outbox WHERE outlet = ?"
            (count,) = db.execute(sql, (outlet,)).fetchone()
        return int(count)

    def delivered(self, ids: Sequence[str]) -> None:
        """They are out: owed no longer."""
        with self._writing() as db:
            rows.paid(db, ids)
            self._owed.took((), ids)

    def failed(self, message_id: str, why: str) -> None:
        """Count a try that failed."""
        with self._writing() as db:
            db.execute(
                "UPDATE outbox SET tries = tries + 1, why = ? WHERE id = ?", (why[:200], message_id)
            )

    def close(self) -> None:
        with self._lock, contextlib.suppress(sqlite3.Error):
            self._db.close()

    # -- inside --------------------------------------------------------------------------------

    @contextlib.contextmanager
    def _guard(self) -> Iterator[sqlite3.Connection]:
        """One at a time, and sqlite's errors as ours. Damage is mended before it is told, so
        that the next call finds a good file."""
        with self._lock:
            if self._closed:
                self._reopen()  # it could not be opened when it should have been
            try:
                yield self._db
            except sqlite3.Error as error:
                if is_damage(error):
                    self._mend(str(error))
                elif getattr(error, "sqlite_errorcode", 0) & 0xFF in STICKY:
                    self._connect_anew()
                raise StoreFailed(str(error)) from None

    @contextlib.contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction."""
        with self._guard() as db:
            db.execute("BEGIN IMMEDIATE")
            try:
                yield db
                db.execute("COMMIT")
            except BaseException:
                if db.in_transaction:
                    with contextlib.suppress(sqlite3.Error):
                        db.rollback()
                raise

    def _not_there(self, db: sqlite3.Connection, kept: list[rows.Kept]) -> list[rows.Kept]:
        """Without the lines of a commit that failed and is there: all of it or nothing is."""
        if self._tried and rows.is_in_journal(db, self._tried[-1]):
            self._there += self._tried
        self._tried = []
        there = {id(line) for line in self._there}
        alerts = (Keep(alert=e.alert) for e in self._there if isinstance(e, Record))
        return [*alerts, *(e for e in kept if id(e) not in there)]

    def _mend(self, why: str) -> None:
        self._close_for(why)
        try:
            set_aside(self.path)
        except OSError as error:
            raise StoreFailed(f"{self.path}: {why}; it stays: {error.strerror}") from None
        self._reopen()

    def _connect_anew(self) -> None:
        """Where the disk was read-only when the file was opened, the connection is for good. The
        old one is closed first: SQLite shares what it knows of a file within a process."""
        self._close_for("in an earlier run")
        with contextlib.suppress(StoreFailed):
            self._reopen()

    def _close_for(self, why: str) -> None:
        self._closed = why
        with contextlib.suppress(sqlite3.Error):
            self._db.close()

    def _reopen(self) -> None:
        try:
            self._db, problems = opened(self.path, self._closed)
        except (sqlite3.Error, OSError) as error:
            raise StoreFailed(f"{self.path}: {error}") from None
        told = (f"{problem}; what stands is written anew" for problem in problems)
        self.problems = (*self.problems, *told)
        self._fresh |= bool(problems)
        if self._fresh:
            self._from_memory(self._db)
        self._closed, self._inode = "", _inode(self.path)

    def _from_memory(self, db: sqlite3.Connection) -> None:
        """What is owed, into a file that was made anew."""
        try:
            db.execute("BEGIN IMMEDIATE")
            self._owed.write(db)
            db.execute("COMMIT")
        except sqlite3.Error as error:
            with contextlib.suppress(sqlite3.Error):
                db.close()
            raise StoreFailed(f"{self.path}: {error}") from None
        self._fresh = False

    def _keep_spare(self, watch: bytes | None) -> None:
        """Whole or not at all; the store has it in any case."""
        part = self._spare.with_name(self._spare.name + ".part")
        with contextlib.suppress(OSError):
            if watch is None:
                self._spare.unlink(missing_ok=True)
                return
            with part.open("wb") as file:
                file.write(watch)
                file.flush()
                os.fsync(file.fileno())
            part.replace(self._spare)

    def _still_whole(self, at_s: float, every_s: float) -> None:
        """A disk that cannot be read just now is found by the commit."""
        if self._closed or abs(at_s - self._looked_s) < every_s:
            return
        self._looked_s = at_s
        try:
            look_over_anew(self.path)
        except sqlite3.Error as error:
            if is_damage(error):
                with self._lock:
                    self._mend(str(error))

    def _still_there(self) -> None:
        """A file that was deleted or replaced takes commits that nobody will ever read. What
        is open still holds everything, so a new file is made of it."""
        if self._closed or _inode(self.path) == self._inode:
            return
        with self._lock:
            try:
                if any(path.exists() for path in _all_of(self.path)):
                    give_up(set_aside(self.path))
                fresh = connect(self.path)
                take_over(self._db, fresh)
            except (sqlite3.Error, OSError) as error:
                raise StoreFailed(f"{self.path} is gone: {error}") from None
            with contextlib.suppress(sqlite3.Error):
                self._db.close()
            self._db, self._inode = fresh, _inode(self.path)
        self.problems = (*self.problems, f"{self.path} was taken away; a new one was made")

    def _mark(self, stamp: Path, at_s: float) -> None:
        self._beat_s = at_s
        try:
            stamp.touch(exist_ok=True)
            os.utime(stamp, ns=(round(at_s * 1000) * 1_000_000,) * 2)
        except OSError as error:
            raise StoreFailed(f"{stamp}: {error.strerror}") from None

    def _last_alive_s(self, committed: str | None) -> float | None:
        found = [] if committed is None else [float(committed)]
        for stamp in (self._alive, self._alive_in_memory):
            if stamp is not None:
                with contextlib.suppress(OSError):
                    found.append(round(stamp.stat().st_mtime_ns / 1_000_000) / 1000)
        return max(found, default=None)


def _inode(path: Path) -> int | None:
    try:
        return path.stat().st_ino
    except OSError:
        return None


def _all_of(path: Path) -> list[Path]:
    return [path, *(path.with_name(path.name + tail) for tail in ("-wal", "-shm"))]
