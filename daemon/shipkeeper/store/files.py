"""The store's file: made, brought up to this version, looked over, set aside when damaged.

A damaged file is renamed, never deleted, and what can still be read of it (the watch and its
mark above all) is taken over into the new one. Until that is on the disk it is called
NAME.unread-STAMP, and then NAME.damaged-STAMP: so a power cut or a full disk in the middle of it
costs nothing, whoever opens the store next goes on with it.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Mapping
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

VERSION = 2
# Version -> file beside this one that leads there from the version before.
STEPS: Mapping[int, str] = {2: "version2.sql"}
SMALL = ("meta", "alerts", "state", "outbox")  # looked over at each start; the journal is long
JOURNAL_TAKEN_OVER = 5000  # rows, the newest; the others stay in the file that was set aside
JOURNAL_LAST = f"ORDER BY number DESC LIMIT {JOURNAL_TAKEN_OVER}"
LOGS = ("-wal", "-shm")
BUSY_S = 5.0
PAGE_BYTES = 1024
CHECKPOINT_BYTES = 1000000
# Of pages kept in memory. SQLite's own 2 MB fill over days as the journal grows, for a writer that
# looks at the same few pages each time.
CACHE_KB = 256


class StoreFailed(Exception):
    """The disk is full, read-only, gone or damaged; the text says which."""


class NewerStore(StoreFailed):
    """Written by a shipkeeper that knows more than this one; left alone."""


def connect(path: Path) -> sqlite3.Connection:
    """A connection to write with. Raises sqlite3.DatabaseError when the file is damaged."""
    path.parent.mkdir(parents=True, exist_ok=True)
    db = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=BUSY_S)
    try:
        # Of a new file: small pages, for a commit changes a few hundred bytes of some of them.
        db.execute(f"PRAGMA page_size={PAGE_BYTES}")
        db.execute("PRAGMA journal_mode=WAL")
        db.execute(f"PRAGMA cache_size=-{CACHE_KB}")
        # Not for tidiness: with less, a power cut forgets rows that were acknowledged.
        db.execute("PRAGMA synchronous=FULL")
        db.execute(f"PRAGMA wal_autocheckpoint={CHECKPOINT_BYTES // PAGE_BYTES}")
        bring_up(db, VERSION, STEPS)
        look_over(db)
    except BaseException:
        db.close()
        raise
    return db


def bring_up(db: sqlite3.Connection, version: int, steps: Mapping[int, str]) -> None:
    """A new file gets the whole schema, an older one each step that it lacks."""
    (found,) = db.execute("PRAGMA user_version").fetchone()
    if found > version:
        raise NewerStore(f"made by a newer shipkeeper (schema {found}; this one knows {version})")
    if found == 0:
        _script(db, _text("schema.sql"), version)
        return
    for step in range(found + 1, version + 1):
        _script(db, _text(steps[step]), step)


def look_over(db: sqlite3.Connection) -> None:
    """Raises sqlite3.DatabaseError for damage where it would hurt: what a restart needs."""
    for table in SMALL:
        (good,) = db.execute(f"PRAGMA quick_check({table})").fetchone()
        if good != "ok":
            raise sqlite3.DatabaseError(f"{table}: {good}")
    db.execute("SELECT line FROM journal ORDER BY number DESC LIMIT 1").fetchone()


def look_over_anew(path: Path) -> None:
    """The same by a connection that has no page in memory yet. Raises sqlite3.Error."""
    with contextlib.closing(
        sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=BUSY_S)
    ) as db:
        look_over(db)


def is_damage(error: sqlite3.Error) -> bool:
    """Damage of the file, and not a full, busy or missing disk."""
    text = str(error)
    if isinstance(error, sqlite3.OperationalError):
        return "malformed" in text
    return isinstance(error, sqlite3.DatabaseError) and not isinstance(
        error, sqlite3.ProgrammingError | sqlite3.IntegrityError | sqlite3.InterfaceError
    )


def opened(path: Path, why: str = "in an earlier run") -> tuple[sqlite3.Connection, list[str]]:
    """A connection, to a new file where the old one is damaged, and a problem in words for each
    file that was set aside and read. Raises sqlite3.Error and OSError; nothing is lost by that."""
    try:
        return _opened(path, why)
    except sqlite3.DatabaseError as error:
        if not is_damage(error):
            raise
        set_aside(path)
        return _opened(path, str(error))


def _opened(path: Path, why: str) -> tuple[sqlite3.Connection, list[str]]:
    _end_renames(path)
    db = connect(path)
    problems = []
    try:
        for aside in _of(path, "unread"):
            counts = salvage(aside, db)
            _sync_folder(path.parent)
            final = _renamed(aside, "unread", "damaged")
            got = ", ".join(f"{n} of {table}" for table, n in counts.items() if n) or "nothing"
            problems.append(
                f"the store was damaged ({why}); set aside as {final.name}; taken over: {got}"
            )
    except BaseException:
        db.close()
        raise
    return db, problems


def set_aside(path: Path) -> Path:
    """Rename the file and its log to NAME.unread-STAMP. Nothing is deleted."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    taken = [p.name for p in path.parent.glob(f"{path.name}.*-{stamp}*")]
    number = 1 + sum(not name.endswith(LOGS) for name in taken)
    suffix = f"-{number}" if number > 1 else ""
    aside = path.with_name(f"{path.name}.unread-{stamp}{suffix}")
    # The file itself last: a log under the new name tells that it was to follow.
    for tail in (*LOGS, ""):
        found = path.with_name(path.name + tail)
        if found.exists():
            found.rename(aside.with_name(aside.name + tail))
    return aside


def give_up(aside: Path) -> Path:
    """What was set aside is not to be read: it has its last name at once."""
    return _renamed(aside, "unread", "damaged")


def _renamed(aside: Path, old: str, new: str) -> Path:
    final = aside.with_name(aside.name.replace(f".{old}-", f".{new}-"))
    for tail in ("", *LOGS):  # itself first: a log under the old name tells what is left to do
        found = aside.with_name(aside.name + tail)
        if found.exists():
            found.rename(final.with_name(final.name + tail))
    return final


def _end_renames(path: Path) -> None:
    """What was cut off in the midst of `set_aside` or `_renamed`."""
    for log in path.parent.glob(f"{path.name}.unread-*"):
        if not log.name.endswith(LOGS):
            continue
        aside = log.with_name(log.name[: -len(LOGS[0])])
        final = aside.with_name(aside.name.replace(".unread-", ".damaged-"))
        if aside.exists():
            continue
        if final.exists():
            log.rename(final.with_name(final.name + log.name[-len(LOGS[0]) :]))
        elif path.exists():
            path.rename(aside)
        else:
            log.rename(final.with_name(final.name + log.name[-len(LOGS[0]) :]))


def _of(path: Path, word: str) -> list[Path]:
    """The files set aside under that word, the oldest first."""
    found = path.parent.glob(f"{path.name}.{word}-*")
    return sorted(one for one in found if not one.name.endswith(LOGS))


def take_over(source: sqlite3.Connection, db: sqlite3.Connection) -> dict[str, int]:
    """Copy what can still be read; table -> rows that came over. All or nothing of that:
    raises sqlite3.Error when the new file does not take it."""
    counts = {}
    db.execute("BEGIN IMMEDIATE")
    try:
        for table, which in (*((t, "") for t in SMALL), ("journal", JOURNAL_LAST)):
            rows: list[tuple[object, ...]] = []
            with contextlib.suppress(sqlite3.Error):
                rows.extend(source.execute(f"SELECT * FROM {table} {which}"))
            counts[table] = sum(_taken(db, table, row) for row in rows)
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.rollback()
        raise
    return counts


def _taken(db: sqlite3.Connection, table: str, row: tuple[object, ...]) -> bool:
    """Whether the row went in; one that does not fit is left out."""
    marks = ", ".join("?" * len(row))
    try:
        db.execute(f"INSERT OR REPLACE INTO {table} VALUES ({marks})", row)
    except sqlite3.Error:
        if not db.in_transaction:  # it is the disk that failed, and all of it was taken back
            raise
        return False
    return True


def salvage(aside: Path, db: sqlite3.Connection) -> dict[str, int]:
    """`take_over` from a damaged file; nothing of it is changed."""
    try:
        source = sqlite3.connect(f"{aside.absolute().as_uri()}?mode=ro", uri=True, timeout=1.0)
    except sqlite3.Error:
        return {}
    with contextlib.closing(source):
        source.text_factory = lambda raw: raw.decode("utf-8", "replace")
        return take_over(source, db)


def _sync_folder(folder: Path) -> None:
    """The new file's name is on the disk before the old one gives up its own."""
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _script(db: sqlite3.Connection, text: str, version: int) -> None:
    try:
        db.executescript(f"BEGIN IMMEDIATE; {text}; PRAGMA user_version={version}; COMMIT;")
    except sqlite3.Error:
        if db.in_transaction:
            db.rollback()
        raise


def _text(name: str) -> str:
    return resources.files(__package__).joinpath(name).read_text("utf-8")
