"""Alerts as NMEA 0183 sentences: ALF, ALC, ARC, HBT, and ALR for older equipment.

Layouts as open codec libraries have them (IEC 61162-1 is a sold document that was not read):
ALF total,number,sequence,time,category,priority,state,maker,identifier,instance,revision,
escalation,text; ALC total,number,sequence,count,{maker,identifier,instance,revision};
ARC time,maker,identifier,instance,command; HBT interval,status,sequence; ALR time,number,
condition,acknowledged,text. Identifiers 10000 to 9999999 are free for makers; ours is
one for each kind of rule, and the instance is the alert's own lasting number.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from ..words.alert import AlertRecord, State
from ..words.sentence import LONGEST, escaped, sentence

IDENTIFIERS = {
    "drag": 10010,
    "zone": 10020,
    "proximity": 10030,
    "depth": 10040,
    "wind": 10050,
    "sensor": 10060,
    "contact": 10070,
    "distress": 10080,
    "feed": 10090,
    "presence": 10100,
    "drill": 10110,
}
OWN_WORDS = 10000  # what the watch says of itself, and kinds that are added later
MOST_INSTANCE = 999_999
TITLE = 16  # IEC 62923-2, from memory
# State letters of ALF: V unacknowledged, S silenced, A acknowledged, O transferred,
# U rectified and unacknowledged, N normal. Shelved and out of service are quiet for all.
STATES = {
    State.ACTIVE: "V",
    State.UNACKNOWLEDGED: "V",
    State.SILENCED: "S",
    State.ACKNOWLEDGED: "A",
    State.TRANSFERRED: "O",
    State.RECTIFIED: "U",
    State.LATCHED: "U",
    State.LATCHED_ACKNOWLEDGED: "A",
}
PRIORITIES = "?CWAE"  # by the number of words.alert.Priority
_ALR_ACTIVE = "VSAO"
_ROOM = LONGEST - 2 - 3 - 1  # without end, checksum and delimiter


class Told(msgspec.Struct, frozen=True):
    """One alert as it stands on the bus."""

    id: str
    identifier: int
    instance: int
    revision: int
    at: str  # hhmmss.ss of the last change
    category: str
    priority: str
    state: str
    level: int
    title: str
    text: str
    occurrence: int = 1
    seen: int = 0  # the record's own revision, which does not wrap


def told(record: AlertRecord, at: str) -> Told | None:
    """None for what is not announced here: one that is spoken for by another, and one that
    cannot be judged (the feed alert speaks for it)."""
    if record.state is State.UNKNOWN or record.group is not None:
        return None
    return Told(
        id=record.id,
        identifier=IDENTIFIERS.get(record.kind, OWN_WORDS),
        instance=(record.number - 1) % MOST_INSTANCE + 1,
        revision=(record.revision - 1) % 99 + 1,  # 1 to 99, never 0
        at=at,
        category=record.category,
        priority=PRIORITIES[record.priority],
        state=STATES.get(record.state, "N"),
        level=min(9, record.level),
        title=("DRILL " if record.drill else "") + record.title,
        text=("DRILL. " if record.drill else "") + record.text,
        occurrence=record.occurrence,
        seen=record.revision,
    )


def alf(alert: Told, talker: str, maker: str, sequence: int) -> list[str]:
    """Two sentences: the title, and the longer words cut to what fits."""
    ends = f"{maker},{alert.identifier},{alert.instance},{alert.revision},{alert.level}"
    head = f"{talker}ALF,2,1,{sequence},{alert.at},{alert.category},{alert.priority},{alert.state}"
    first = f"{head},{ends},"
    second = f"{talker}ALF,2,2,{sequence},,,,,{ends},"
    return [
        sentence(first + escaped(alert.title[:TITLE], _ROOM - len(first))),
        sentence(second + escaped(alert.text, _ROOM - len(second))),
    ]


def alc(alerts: Sequence[Told], talker: str, maker: str, sequence: int) -> list[str]:
    """The list of all that stands, so that a listener notices an ALF that it missed."""
    room = _ROOM - len(f"{talker}ALC,00,00,00,00")
    parts: list[list[str]] = [[]]
    for alert in alerts:
        entry = f",{maker},{alert.identifier},{alert.instance},{alert.revision}"
        if sum(map(len, parts[-1])) + len(entry) > room:
            parts.append([])
        parts[-1].append(entry)
    parts = parts[:99]
    return [
        sentence(
            f"{talker}ALC,{len(parts):02d},{number:02d},{sequence:02d},{len(part)}{''.join(part)}"
        )
        for number, part in enumerate(parts, start=1)
    ]


def arc(at: str, talker: str, maker: str, identifier: str, instance: str, command: str) -> str:
    """A command that was refused."""
    return sentence(f"{talker}ARC,{at},{maker},{identifier},{instance},{command}")


def hbt(talker: str, every_s: float, well: bool, sequence: int) -> str:
    """Sign of life, with the interval at which it comes."""
    return sentence(f"{talker}HBT,{every_s:.1f},{'A' if well else 'V'},{sequence}")


def alr(alert: Told, talker: str) -> str:
    """The older sentence: a local number of three figures, condition, acknowledged, text."""
    active = "A" if alert.state in _ALR_ACTIVE else "V"
    seen = "A" if alert.state in "AON" or alert.priority == "C" else "V"
    head = f"{talker}ALR,{alert.at},{alr_number(alert):03d},{active},{seen},"
    return sentence(head + escaped(f"{alert.title}: {alert.text}", _ROOM - len(head)))


def alr_number(alert: Told) -> int:
    return alert.instance % 1000
