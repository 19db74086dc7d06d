"""Effects to rows: what each one writes, inside a transaction that is already open."""

from __future__ import annotations

import sqlite3
import zlib
from collections.abc import Iterable

import msgspec

from ..words.alert import AlertRecord, Priority, State
from ..words.effects import Effect, Keep, Message, Note, Record, Remember, Send

TRANSITIONS_KEPT_S = 400 * 86_400.0  # over a year
NOTES_KEPT_S = 90 * 86_400.0
TRANSITION_ROWS = 100_000
NOTE_ROWS = 50_000
OUTBOX_ROWS = 10_000  # for one outlet
PACK_ABOVE = 400  # bytes of a named state
PACKED = b"\0z"
AT_ONCE = 5_000  # rows that one pruning takes at most, so that no commit waits long
# A value that no file takes, whatever the disk does: half of a surrogate pair, a huge number.
UNWRITABLE = (ValueError, TypeError, OverflowError, sqlite3.ProgrammingError)

Kept = Record | Keep | Note | Remember | Send


def kept(effects: Iterable[Effect]) -> list[Kept]:
    """Those of a batch that the store keeps."""
    return [e for e in effects if isinstance(e, Kept)]


def write(db: sqlite3.Connection, effect: Kept) -> None:
    if isinstance(effect, Record):
        _journal(db, _entry(effect))
        _alert(db, effect.alert)
    elif isinstance(effect, Keep):
        _alert(db, effect.alert)
    elif isinstance(effect, Note):
        _journal(db, _entry(effect))
    elif isinstance(effect, Remember):
        if effect.value is None:
            db.execute("DELETE FROM state WHERE key = ?", (effect.key,))
        else:
            db.execute("INSERT OR REPLACE INTO state VALUES (?, ?)", _packed(effect))
    else:
        _owed(db, effect.message)


def _packed(state: Remember) -> tuple[str, bytes | None]:
    """A large value is packed: pages that are not written wear no card."""
    value = state.value
    if isinstance(value, bytes) and (len(value) > PACK_ABOVE or value.startswith(PACKED)):
        value = PACKED + zlib.compress(value, 6)
    return state.key, value


def unpack(raw: bytes) -> bytes:
    """The value as it was given; raises zlib.error for one that is damaged."""
    return zlib.decompress(raw[len(PACKED) :]) if raw.startswith(PACKED) else raw


def is_in_journal(db: sqlite3.Connection, effect: Record | Note) -> bool:
    """Whether this very line stands there."""
    found = db.execute(
        "SELECT 1 FROM journal WHERE at_s = ? AND kind = ? AND line = ?", _entry(effect)
    )
    return found.fetchone() is not None


def paid(db: sqlite3.Connection, ids: Iterable[str]) -> None:
    """These messages are delivered."""
    db.executemany("DELETE FROM outbox WHERE id = ?", [(one,) for one in ids])


def mark_alive(db: sqlite3.Connection, at_s: float) -> None:
    db.execute("INSERT OR REPLACE INTO meta VALUES ('alive_s', ?)", (repr(at_s),))


def prune(db: sqlite3.Connection, at_s: float) -> None:
    """Bound the journal by age and rows, and what one dead outlet may be owed.

    Rows of alerts that stand are never taken, nor a message that an alarm was raised.
    """
    for which, kept_s, rows in (
        ("kind = 'transition'", TRANSITIONS_KEPT_S, TRANSITION_ROWS),
        ("kind <> 'transition'", NOTES_KEPT_S, NOTE_ROWS),
    ):
        db.execute(
            f"DELETE FROM journal WHERE number IN (SELECT number FROM journal WHERE {which} AND ("
            " at_s < ? OR number < coalesce((SELECT number FROM journal"
            f"  WHERE {which} ORDER BY number DESC LIMIT 1 OFFSET ?), 0))"
            " AND NOT (kind = 'transition'"
            "  AND json_extract(line, '$.alert') IN (SELECT id FROM alerts))"
            " ORDER BY number LIMIT ?)",
            (at_s - kept_s, rows - 1, AT_ONCE),
        )
    for outlet, count in db.execute(
        "SELECT outlet, count(*) FROM outbox GROUP BY outlet"
    ).fetchall():
        if count > OUTBOX_ROWS:
            db.execute(
                "DELETE FROM outbox WHERE number IN (SELECT number FROM outbox WHERE outlet = ?"
                " AND NOT (json_extract(CAST(message AS TEXT), '$.event') = 'raised'"
                "  AND json_extract(CAST(message AS TEXT), '$.priority') >= ?)"
                " ORDER BY number LIMIT ?)",
                (outlet, int(Priority.ALARM), min(AT_ONCE, count - OUTBOX_ROWS)),
            )


def _alert(db: sqlite3.Connection, record: AlertRecord) -> None:
    """Those back to normal need no row, but for an event that lasts and has been seen."""
    if record.state is State.NORMAL and record.shelved_until_s is None and not record.spent:
        db.execute("DELETE FROM alerts WHERE id = ?", (record.id,))
    else:
        raw = msgspec.json.encode(record, enc_hook=str)
        db.execute("INSERT OR REPLACE INTO alerts VALUES (?, ?)", (record.id, raw))
    number_given(db, record.number)


def number_given(db: sqlite3.Connection, number: int) -> None:
    """This number of an alert is not given out again, nor any before it."""
    db.execute(
        "INSERT INTO meta VALUES ('next_number', ?) ON CONFLICT (key) DO UPDATE "
        "SET value = max(CAST(value AS INTEGER), CAST(excluded.value AS INTEGER))",
        (str(number + 1),),
    )


def _owed(db: sqlite3.Connection, message: Message) -> None:
    """One with the same id is owed once."""
    db.execute(
        "INSERT OR IGNORE INTO outbox (id, outlet, about, at_s, message) VALUES (?,?,?,?,?)",
        (message.id, message.outlet, message.about, message.at_s, msgspec.json.encode(message)),
    )


def _entry(row: Record | Note) -> tuple[float, str, str]:
    """(at_s, kind, line) of the journal."""
    if isinstance(row, Record):
        return row.at_s, "transition", msgspec.json.encode(row.transition).decode()
    line = {"at": row.at, "kind": row.kind, "text": row.text, **row.data}
    return row.at_s, row.kind, msgspec.json.encode(line, enc_hook=str).decode()


def _journal(db: sqlite3.Connection, entry: tuple[float, str, str]) -> None:
    db.execute("INSERT INTO journal (at_s, kind, line) VALUES (?, ?, ?)", entry)
