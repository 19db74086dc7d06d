"""What goes to an MQTT broker: topics and JSON, as config/mqtt.schema.json has them.

    BASE/BOAT/availability    "online" or "offline" (last will), retained
    BASE/BOAT/watch           the watch and the worst of what stands, retained
    BASE/BOAT/alert/ID        one alert, retained; an empty message when it is over
    BASE/BOAT/event           every message once, not retained
    BASE/BOAT/command, BASE/BOAT/reply    signed commands, and what became of them

Every level of a topic made from a name keeps letters, digits, dot, dash, underscore and colon
alone: a vessel's name cannot reach another topic.
"""

from __future__ import annotations

import re
from typing import Any

import msgspec

from ..words.alert import AlertRecord, Priority, State
from ..words.effects import Message, Show
from .plain import lines, one_line

SCHEMA = 1
_NOT_LEVEL = re.compile(r"[^A-Za-z0-9._:-]")
MOST_LEVEL = 100
UNSEEN = (State.UNACKNOWLEDGED, State.SILENCED, State.RECTIFIED, State.LATCHED)


def level(text: str) -> str:
    """One level of a topic: nothing that divides, matches or hides."""
    return _NOT_LEVEL.sub("-", text)[:MOST_LEVEL] or "-"


class Topics(msgspec.Struct, frozen=True):
    """All topics of one boat."""

    base: str
    boat: str

    def of(self, *levels: str) -> str:
        return "/".join((self.base, self.boat, *levels))

    def alert(self, alert_id: str) -> str:
        return self.of("alert", level(alert_id))


def alert(record: AlertRecord, boat: str, at: str, sent: str) -> dict[str, Any]:
    """The retained state of one alert. Engine times stay inside; ages and texts go out."""
    return {
        "schema": SCHEMA,
        "boat": boat,
        "id": record.id,
        "number": record.number,
        "occurrence": record.occurrence,
        "revision": record.revision,
        "kind": record.kind,
        "rule": one_line(record.rule),
        "subject": one_line(record.subject.name),
        "mmsi": record.subject.mmsi,
        "priority": record.priority.label,
        "base_priority": record.base_priority.label,
        "category": record.category,
        "state": str(record.state),
        "condition": record.condition,
        "level": record.level,
        "value": record.value,
        "limit": record.limit,
        "unit": record.unit,
        "lat": record.lat,
        "lon": record.lon,
        "data_lost": record.data_lost,
        "title": one_line(record.title),
        "text": lines(record.text),
        "acknowledged_by": one_line(record.acknowledged_by),
        "acknowledged_where": record.acknowledged_where,
        "group": record.group,
        "drill": record.drill,
        "restored": record.restored,
        "at": at,
        "sent": sent,
    }


def over(alert_id: str, boat: str, at: str, sent: str) -> dict[str, Any]:
    """What live listeners are told before a retained alert is taken away."""
    state = str(State.NORMAL)
    return {"schema": SCHEMA, "boat": boat, "id": alert_id, "state": state, "at": at, "sent": sent}


def watch(show: Show, boat: str, vessel: str, sent: str, every_s: float) -> dict[str, Any]:
    """The watch as it stands, with a count and the worst: a sign of life each `every_s`."""
    standing = [r for r in show.alerts if r.state not in (State.SHELVED, State.OUT_OF_SERVICE)]
    worst = max((r.priority for r in standing), default=None)
    first = standing[0] if standing else None
    return {
        "schema": SCHEMA,
        "boat": boat,
        "vessel": one_line(vessel),
        "watch": show.watch,
        "crew": show.crew,
        "watching": show.watching,
        "alerts": len(standing),
        "unacknowledged": sum(r.state in UNSEEN for r in standing),
        "worst": worst.label if isinstance(worst, Priority) else "none",
        "title": one_line(first.title) if first else "",
        "trouble": bool(standing),
        "at": show.at,
        "sent": sent,
        "every_s": every_s,
    }


def event(message: Message, boat: str, sent: str, late_s: float) -> dict[str, Any]:
    """One message of the event stream; the same `id` when it had to be sent twice."""
    return {
        "schema": SCHEMA,
        "boat": boat,
        "id": message.id,
        "event": message.event,
        "alert": message.about,
        "number": message.number,
        "occurrence": message.occurrence,
        "priority": message.priority.label,
        "state": message.state,
        "rule": one_line(message.rule),
        "subject": one_line(message.subject),
        "value": message.value,
        "limit": message.limit,
        "unit": message.unit,
        "lat": message.lat,
        "lon": message.lon,
        "title": one_line(message.title),
        "line": one_line(message.line),
        "text": lines(message.text),
        "drill": message.drill,
        "at": message.at,
        "sent": sent,
        "late_s": late_s,
    }


def encoded(body: dict[str, Any]) -> bytes:
    return msgspec.json.encode(body)
