"""The journal read by another process, also while the daemon writes, also when none runs."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator, Sequence
from pathlib import Path

from .files import BUSY_S, StoreFailed


def read_journal(
    path: Path, *, since_s: float | None = None, limit: int | None = None, kinds: Sequence[str] = ()
) -> Iterator[tuple[float, str, str]]:
    """(engine time, kind, JSON line) in order; `limit`: only the newest so many.

    Raises StoreFailed. Nothing is written, so a reader needs no right to.
    """
    where, values = ["1"], list[object]()
    if since_s is not None:
        where.append("at_s >= ?")
        values.append(since_s)
    if kinds:
        where.append(f"kind IN ({', '.join('?' * len(kinds))})")
        values += kinds
    newest = f"ORDER BY number DESC LIMIT {int(limit)}" if limit is not None else ""
    chosen = f"SELECT * FROM journal WHERE {' AND '.join(where)} {newest}"
    try:
        with contextlib.closing(_open(path)) as db:
            yield from db.execute(
                f"SELECT at_s, kind, line FROM ({chosen}) ORDER BY number", values
            )
    except sqlite3.Error as error:
        raise StoreFailed(f"{path}: {error}") from None


def _open(path: Path) -> sqlite3.Connection:
    """Read-only. A folder that we may not write to and where no daemon runs wants `immutable`:
    SQLite could not make its shared memory there, and nobody changes the file."""
    address = path.absolute().as_uri()
    if not path.exists():
        raise sqlite3.OperationalError("there is no such file")
    db = sqlite3.connect(f"{address}?mode=ro", uri=True, timeout=BUSY_S)
    try:
        db.execute("SELECT 1 FROM journal LIMIT 1").fetchone()
    except sqlite3.OperationalError:
        db.close()
        if path.with_name(path.name + "-wal").exists():
            raise
        db = sqlite3.connect(f"{address}?mode=ro&immutable=1", uri=True, timeout=BUSY_S)
    return db
