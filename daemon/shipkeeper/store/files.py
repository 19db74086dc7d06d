"""The store's file: made, brought up to this version, looked over, set aside when damaged.

A damaged file is renamed, never deleted, and what can still be read of it (the watch and its
mark above all) is taken over into the new one.
"""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Mapping
from datetime import UTC, datetime
from importlib import resources
from pathlib import Path

VERSION = 2
# Version -> file beside this one that leads there from the version before.
STEPS: Mapping[int, str] = {2: "version2.sql"}
SMALL = ("meta", "alerts", "state", "outbox")  # looked over at each start; the journal is long
BUSY_S = 5.0
PAGE_BYTES = 1024
CHECKPOINT_BYTES = 1000000


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


def is_damage(error: sqlite3.Error) -> bool:
    """Damage of the file, and not a full, busy or missing disk."""
    text = str(error)
    if isinstance(error, sqlite3.OperationalError):
        return "malformed" in text
    return isinstance(error, sqlite3.DatabaseError) and not isinstance(
        error, sqlite3.ProgrammingError | sqlite3.IntegrityError | sqlite3.InterfaceError
    )


def set_aside(path: Path) -> Path:
    """Rename the file and its log to NAME.damaged-STAMP. Nothing is deleted."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    aside, number = path.with_name(f"{path.name}.damaged-{stamp}"), 1
    while aside.exists():
        number += 1
        aside = path.with_name(f"{path.name}.damaged-{stamp}-{number}")
    if path.exists():
        path.rename(aside)
    for tail in ("-wal", "-shm"):
        log = path.with_name(path.name + tail)
        if log.exists():
            log.rename(aside.with_name(aside.name + tail))
    return aside


def take_over(source: sqlite3.Connection, db: sqlite3.Connection) -> dict[str, int]:
    """Copy what can still be read of the small tables; table -> rows that came over."""
    counts = {}
    db.execute("BEGIN IMMEDIATE")
    for table in SMALL:
        rows: list[tuple[object, ...]] = []
        with contextlib.suppress(sqlite3.Error):
            rows.extend(source.execute(f"SELECT * FROM {table}"))
        counts[table] = 0
        for row in rows:
            marks = ", ".join("?" * len(row))
            with contextlib.suppress(sqlite3.Error):
                db.execute(f"INSERT OR REPLACE INTO {table} VALUES ({marks})", row)
                counts[table] += 1
    db.execute("COMMIT")
    return counts


def salvage(aside: Path, db: sqlite3.Connection) -> dict[str, int]:
    """`take_over` from a damaged file; nothing of it is changed."""
    try:
        source = sqlite3.connect(f"{aside.absolute().as_uri()}?mode=ro", uri=True, timeout=1.0)
    except sqlite3.Error:
        return {}
    with contextlib.closing(source):
        source.text_factory = lambda raw: raw.decode("utf-8", "replace")
        return take_over(source, db)


def _script(db: sqlite3.Connection, text: str, version: int) -> None:
    try:
        db.executescript(f"BEGIN IMMEDIATE; {text}; PRAGMA user_version={version}; COMMIT;")
    except sqlite3.Error:
        if db.in_transaction:
            db.rollback()
        raise


def _text(name: str) -> str:
    return resources.files(__package__).joinpath(name).read_text("utf-8")
