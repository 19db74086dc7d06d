"""Messages and the wanted state, made short for tests of outlets and the store."""

from __future__ import annotations

from typing import Any

from shipkeeper.words.alert import AlertRecord, Priority, State, Subject, Transition
from shipkeeper.words.effects import Message, Show, Wanted


def message(number: int = 1, **changes: Any) -> Message:
    """An alarm raised by a drag rule at a place of our invention."""
    fields: dict[str, Any] = {
        "id": f"drag/1/{number}/raised/skipper",
        "outlet": "skipper",
        "at_s": 1_781_230_425.0,
        "at": "2026-06-12T02:13:45.000Z",
        "event": "raised",
        "about": "drag",
        "number": number,
        "occurrence": 1,
        "priority": Priority.ALARM,
        "state": "active-unacknowledged",
        "title": "DRAGGING",
        "line": "52 m from the anchor, limit 45 m",
        "text": "52 m from the anchor, limit 45 m. Start the engine, lay out more chain.",
        "rule": "drag",
        "subject": "own ship",
        "value": 52.1,
        "limit": 45.0,
        "unit": "m",
    }
    return Message(**{**fields, **changes})


def show(watching: bool = True) -> Show:
    return Show(
        at="2026-06-12T02:13:45.000Z", watch="anchored", crew="aboard", alerts=(), watching=watching
    )


def wanted(pattern: str, fresh: int = 1, **changes: Any) -> Wanted:
    return Wanted(pattern=pattern, fresh=fresh, **changes)


def record(number: int = 1, **changes: Any) -> AlertRecord:
    fields: dict[str, Any] = {
        "id": f"zone:ais:2990010{number:02d}",
        "number": number,
        "kind": "zone",
        "rule": "guard zone",
        "subject": Subject(f"ais:2990010{number:02d}", "ais", f"BRAMBLE {number}"),
        "state": State.UNACKNOWLEDGED,
        "occurrence": 1,
        "priority": Priority.WARNING,
        "facts": {"range_m": 211.5, "bearing_deg": 45.0},
    }
    return AlertRecord(**{**fields, **changes})


def transition(alert: AlertRecord, **changes: Any) -> Transition:
    fields: dict[str, Any] = {
        "at": "2026-06-12T02:13:45.000Z",
        "alert": alert.id,
        "kind": alert.kind,
        "rule": alert.rule,
        "subject": alert.subject.name,
        "mmsi": None,
        "occurrence": alert.occurrence,
        "priority": alert.priority.label,
        "from_": "normal",
        "to": str(alert.state),
        "reason": "condition",
        "value": None,
        "limit": None,
        "unit": "",
        "lat": None,
        "lon": None,
        "text": "",
    }
    return Transition(**{**fields, **changes})
