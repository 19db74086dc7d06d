"""The store: SQLite, write-ahead log, every commit synced, one writer.

One batch of effects is one transaction: the alert as it stands, its line in the journal, and
the messages that must go out, together or not at all. `synchronous=FULL` is not for tidiness:
with less, a power cut forgets rows that were acknowledged (measured on a virtual machine).
A damaged file is set aside under another name, never deleted, and the watch goes on.
"""

from __future__ import annotations

import contextlib
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from importlib import resources
from pathlib import Path

import msgspec

from ..words.alert import AlertRecord, State
from ..words.effects import Effect, Keep, Message, Note, Record, Remember, Send
from ..words.remembered import Remembered

VERSION = 1
BEAT_EVERY_S = 60.0
JOURNAL_KEPT_S = 400 * 86_400.0  # over a year
JOURNAL_ROWS = 500_000
PRUNE_EVERY = 500  # commits

_RECORD = msgspec.json.Decoder(AlertRecord)
_MESSAGE = msgspec.json.Decoder(Message)


class StoreFailed(Exception):
    """The disk is full, read-only, gone or damaged; the text says which."""


class Store:
    """The daemon's one writer. `commit` may be called from one thread, the outbox from any."""

    def __init__(self, path: Path, connection: sqlite3.Connection, problems: tuple[str, ...]):
        self.path = path
        self._db = connection
        self._lock = threading.Lock()
        self._problems = problems
        self._beat_s = float("-inf")
        self._commits = 0

    @classmethod
    def open(cls, path: Path) -> Store:
        """Open or make. A damaged file is set aside; StoreFailed when nothing can be made."""
        problems: tuple[str, ...] = ()
        try:
            try:
                return cls(path, _connect(path), ())
            except sqlite3.DatabaseError as error:
                if isinstance(error, sqlite3.OperationalError) and "malformed" not in str(error):
                    raise
                aside = _set_aside(path)
                problems = (f"the store was damaged ({error}); set aside as {aside.name}",)
                return cls(path, _connect(path), problems)
        except (sqlite3.Error, OSError) as error:
            raise StoreFailed(f"{path}: {error}") from None

    def load(self) -> Remembered:
        """What an earlier run left."""
        with self._guard() as db:
            kept: list[AlertRecord] = []
            problems = list(self._problems)
            for row_id, raw in db.execute("SELECT id, record FROM alerts ORDER BY id"):
                try:
                    kept.append(_RECORD.decode(raw))
                except msgspec.MsgspecError as error:
                    problems.append(f"alert {row_id} in the store cannot be read: {error}")
            state = {str(key): bytes(value) for key, value in db.execute("SELECT * FROM state")}
            meta = dict(db.execute("SELECT key, value FROM meta"))
        number = max([int(meta.get("next_number", 1)), *(a.number + 1 for a in kept)])
        alive = meta.get("alive_s")
        return Remembered(
            alerts=tuple(kept),
            state=state,
            last_alive_s=float(alive) if alive is not None else None,
            next_number=number,
            problems=tuple(problems),
        )

    def commit(self, effects: Sequence[Effect], at_s: float) -> None:
        """One transaction for all that is to be kept of a batch. Raises StoreFailed."""
        kept = [e for e in effects if isinstance(e, Record | Keep | Note | Remember | Send)]
        if not kept:
            return
        with self._guard() as db, db:
            db.execute("BEGIN IMMEDIATE")
            for effect in kept:
                _write(db, effect)
            self._mark_alive(db, at_s)
            self._commits += 1
            if self._commits % PRUNE_EVERY == 0:
                _prune(db, at_s)

    def beat(self, at_s: float) -> None:
        """A sign of life, at most once a minute, so that a gap can be told."""
        if at_s - self._beat_s < BEAT_EVERY_S:
            return
        with self._guard() as db, db:
            db.execute("BEGIN IMMEDIATE")
            self._mark_alive(db, at_s)

    def pending(self, outlet: str, limit: int = 50) -> list[Message]:
        """Messages that the outlet still owes, oldest first."""
        with self._guard() as db:
            rows = db.execute(
                "SELECT message FROM outbox WHERE outlet = ? ORDER BY number LIMIT ?",
                (outlet, limit),
            ).fetchall()
        return [_MESSAGE.decode(raw) for (raw,) in rows]

    def waiting(self, outlet: str) -> int:
        with self._guard() as db:
            sql = "SELECT count(*) FROM outbox WHERE outlet = ?"
            (count,) = db.execute(sql, (outlet,)).fetchone()
        return int(count)

    def delivered(self, ids: Sequence[str]) -> None:
        """They are out: owed no longer."""
        with self._guard() as db, db:
            db.execute("BEGIN IMMEDIATE")
            db.executemany("DELETE FROM outbox WHERE id = ?", [(i,) for i in ids])

    def failed(self, message_id: str, why: str) -> None:
        """Count a try that failed."""
        with self._guard() as db, db:
            db.execute("BEGIN IMMEDIATE")
            db.execute(
                "UPDATE outbox SET tries = tries + 1, why = ? WHERE id = ?", (why[:200], message_id)
            )

    def close(self) -> None:
        with self._lock, contextlib.suppress(sqlite3.Error):
            self._db.close()

    @contextlib.contextmanager
    def _guard(self) -> Iterator[sqlite3.Connection]:
        """One at a time, and sqlite's errors as ours."""
        with self._lock:
            try:
                yield self._db
            except sqlite3.Error as error:
                if self._db.in_transaction:
                    with contextlib.suppress(sqlite3.Error):
                        self._db.rollback()
                raise StoreFailed(str(error)) from None

    def _mark_alive(self, db: sqlite3.Connection, at_s: float) -> None:
        self._beat_s = at_s
        db.execute("INSERT OR REPLACE INTO meta VALUES ('alive_s', ?)", (repr(at_s),))


def read_journal(
    path: Path, *, since_s: float | None = None, limit: int | None = None, kinds: Sequence[str] = ()
) -> Iterator[tuple[float, str, str]]:
    """(engine time, kind, JSON line) in order; read-only, also beside a running daemon."""
    try:
        db = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=5.0)
    except sqlite3.Error as error:
        raise StoreFailed(f"{path}: {error}") from None
    where, values = ["1"], []
    if since_s is not None:
        where.append("at_s >= ?")
        values.append(since_s)
    if kinds:
        where.append(f"kind IN ({', '.join('?' * len(kinds))})")
        values += list(kinds)  # type: ignore[arg-type]  # SQL values of two kinds in one list
    newest = f"ORDER BY number DESC LIMIT {int(limit)}" if limit is not None else ""
    chosen = f"SELECT * FROM journal WHERE {' AND '.join(where)} {newest}"
    with contextlib.closing(db):
        try:
            yield from db.execute(
                f"SELECT at_s, kind, line FROM ({chosen}) ORDER BY number", values
            )
        except sqlite3.Error as error:
            raise StoreFailed(f"{path}: {error}") from None


def _connect(path: Path) -> sqlite3.Connection:
    path.parent.mkdir(parents=True, exist_ok=True)
    db = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=5.0)
    try:
        db.execute("PRAGMA journal_mode=WAL")
        db.execute("PRAGMA synchronous=FULL")
        db.execute("PRAGMA wal_autocheckpoint=200")
        (version,) = db.execute("PRAGMA user_version").fetchone()
        if version > VERSION:
            raise OSError(f"made by a newer shipkeeper (schema {version}, this one has {VERSION})")
        if version == 0:
            schema = resources.files(__package__).joinpath("schema.sql").read_text("utf-8")
            db.executescript(f"BEGIN; {schema} PRAGMA user_version={VERSION}; COMMIT;")
        (good,) = db.execute("PRAGMA quick_check(1)").fetchone()
        if good != "ok":
            raise sqlite3.DatabaseError(good)
    except BaseException:
        db.close()
        raise
    return db


def _set_aside(path: Path) -> Path:
    """Rename the damaged file and its log; nothing is deleted."""
    number = 1
    while (aside := path.with_name(f"{path.name}.damaged-{number}")).exists():
        number += 1
    path.rename(aside)
    for tail in ("-wal", "-shm"):
        log = path.with_name(path.name + tail)
        if log.exists():
            log.rename(aside.with_name(aside.name + tail))
    return aside


def _write(db: sqlite3.Connection, effect: Record | Keep | Note | Remember | Send) -> None:
    if isinstance(effect, Record):
        _journal(db, effect.at_s, "transition", msgspec.json.encode(effect.transition))
        _alert(db, effect.alert)
    elif isinstance(effect, Keep):
        _alert(db, effect.alert)
    elif isinstance(effect, Note):
        line = {"at": effect.at, "kind": effect.kind, "text": effect.text, **effect.data}
        _journal(db, effect.at_s, effect.kind, msgspec.json.encode(line, enc_hook=str))
    elif isinstance(effect, Remember):
        if effect.value is None:
            db.execute("DELETE FROM state WHERE key = ?", (effect.key,))
        else:
            db.execute("INSERT OR REPLACE INTO state VALUES (?, ?)", (effect.key, effect.value))
    else:
        message = effect.message
        db.execute(
            "INSERT OR IGNORE INTO outbox (id, outlet, about, at_s, message) VALUES (?,?,?,?,?)",
            (
                message.id,
                message.outlet,
                message.about,
                message.at_s,
                msgspec.json.encode(message),
            ),
        )


def _alert(db: sqlite3.Connection, record: AlertRecord) -> None:
    """Those back to normal need no row; their number is not given out again."""
    if record.state is State.NORMAL and record.shelved_until_s is None:
        db.execute("DELETE FROM alerts WHERE id = ?", (record.id,))
    else:
        raw = msgspec.json.encode(record, enc_hook=str)
        db.execute("INSERT OR REPLACE INTO alerts VALUES (?, ?)", (record.id, raw))
    db.execute(
        "INSERT INTO meta VALUES ('next_number', ?) ON CONFLICT (key) DO UPDATE "
        "SET value = max(CAST(value AS INTEGER), CAST(excluded.value AS INTEGER))",
        (str(record.number + 1),),
    )


def _journal(db: sqlite3.Connection, at_s: float, kind: str, line: bytes) -> None:
    db.execute(
        "INSERT INTO journal (at_s, kind, line) VALUES (?, ?, ?)", (at_s, kind, line.decode())
    )


def _prune(db: sqlite3.Connection, at_s: float) -> None:
    db.execute("DELETE FROM journal WHERE at_s < ?", (at_s - JOURNAL_KEPT_S,))
    db.execute(
        "DELETE FROM journal WHERE number <= (SELECT max(number) FROM journal) - ?",
        (JOURNAL_ROWS,),
    )
