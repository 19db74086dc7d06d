"""A message as one line of RFC 5424: header, structured data, text.

PRI is facility times 8 plus severity. Severity 0 is never used: receivers commonly show it on
every terminal. Names and texts may come from the air: all that cannot be printed is blanked,
and in the structured data quote, backslash and bracket are escaped (6.3.3).
"""

from __future__ import annotations

import re

from ..words.alert import Priority, State
from ..words.effects import Message
from .plain import one_line

# RFC 5424 6.2.1, table 1
FACILITIES = {"user": 1, "daemon": 3, "local0": 16, "local1": 17, "local2": 18, "local3": 19,
              "local4": 20, "local5": 21, "local6": 22, "local7": 23}  # fmt: skip
SEVERITIES = {
    Priority.EMERGENCY: 1,
    Priority.ALARM: 2,
    Priority.WARNING: 4,
    Priority.CAUTION: 5,
}
ERROR, NOTICE, INFO = 3, 5, 6
ENTERPRISE = 32473  # the number that RFC 5612 keeps for examples: we own none
NIL = "-"

# RFC 3339 as 6.2.3 narrows it: at most six digits of a second, upper case, an offset.
_STAMP = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d{1,6})?(Z|[+-]\d\d:\d\d)")


def line(message: Message, *, facility: int, host: str, pid: int, most_bytes: int) -> bytes:
    """UTF-8, at most that long: the text is cut, never the header or the structured data."""
    pri = facility * 8 + severity(message)
    head = (
        f"<{pri}>1 {stamp(message.at)} {name(host, 255)} shipkeeper {pid}"
        f" {name(message.event, 32)} {structured(message)} "
    ).encode()
    text = f"\ufeff{one_line(message.title)}: {one_line(message.text)}".encode()
    return head + _cut(text, max(0, most_bytes - len(head)))


def severity(message: Message) -> int:
    """By priority while unanswered, notice when handled, info when over."""
    if message.state == State.NORMAL:
        return INFO
    if message.state == State.UNKNOWN:
        return ERROR
    if message.state in (State.UNACKNOWLEDGED, State.ACTIVE):
        return SEVERITIES[message.priority]
    return NOTICE


def structured(message: Message) -> str:
    """One element with what is known; what is absent is left out."""
    fields = {
        "id": message.about,
        "no": str(message.number),
        "occurrence": str(message.occurrence),
        "rev": str(message.revision) if message.revision else "",
        "prio": message.priority.label,
        "state": message.state,
        "event": message.event,
        "rule": message.rule,
        "subject": message.subject,
        "value": _number(message.value),
        "limit": _number(message.limit),
        "unit": message.unit,
        "lat": "" if message.lat is None else f"{message.lat:.5f}",
        "lon": "" if message.lon is None else f"{message.lon:.5f}",
        "drill": "yes" if message.drill else "",
        "msg": message.id,
    }
    params = " ".join(f'{key}="{escape(value)}"' for key, value in fields.items() if value)
    return f"[alert@{ENTERPRISE} {params}]"


def escape(value: str) -> str:
    """A PARAM-VALUE."""
    text = one_line(value)
    return text.replace("\\", "\\\\").replace('"', '\\"').replace("]", "\\]")


def stamp(text: str) -> str:
    """A TIMESTAMP, or the nil value for anything that is none."""
    return text if _STAMP.fullmatch(text) else NIL


def name(text: str, most: int) -> str:
    """Printable US-ASCII without spaces, or the nil value."""
    kept = "".join(c for c in text if 33 <= ord(c) <= 126)
    return kept[:most] or NIL


def _number(value: float | None) -> str:
    return "" if value is None else f"{value:g}"


def _cut(data: bytes, most: int) -> bytes:
    """Not in the middle of a character."""
    return data[:most].decode("utf-8", "ignore").encode()
