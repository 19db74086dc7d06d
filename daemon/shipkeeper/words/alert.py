"""Alerts in words: priorities, states, reasons, and the record of one alert instance.

Priorities and states are those of bridge alert management (IMO MSC.302(87)), which our
machine is modelled on. One instance is one rule and one subject.
"""

from __future__ import annotations

from enum import IntEnum, StrEnum
from typing import Any, Literal

import msgspec


class Priority(IntEnum):
    """Higher is more urgent. The names people read are in `label`."""

    CAUTION = 1
    WARNING = 2
    ALARM = 3
    EMERGENCY = 4

    @property
    def label(self) -> str:
        return "emergency alarm" if self is Priority.EMERGENCY else self.name.lower()

    @classmethod
    def from_label(cls, text: str) -> Priority:
        for priority in cls:
            if priority.label == text:
                return priority
        raise ValueError(text)


class State(StrEnum):
    """The flat state that is published; see alerts/states.py for what makes it."""

    NORMAL = "normal"
    ACTIVE = "active"
    UNACKNOWLEDGED = "active-unacknowledged"
    SILENCED = "active-silenced"
    ACKNOWLEDGED = "active-acknowledged"
    TRANSFERRED = "active-transferred"
    RECTIFIED = "rectified-unacknowledged"
    LATCHED = "latched-unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched-acknowledged"
    SHELVED = "shelved"
    OUT_OF_SERVICE = "out-of-service"
    UNKNOWN = "unknown"


class Reason(StrEnum):
    """Why a transition happened."""

    CONDITION = "condition"
    ESCALATION = "escalation"
    WORSE = "worse"
    ACKNOWLEDGE = "acknowledge"
    SILENCE = "silence"
    SILENCE_OVER = "silence-over"
    SHELVE = "shelve"
    SHELF_OVER = "shelf-over"
    DATA_LOST = "data-lost"
    RESTART = "restart"
    WATCH = "watch"


SOUNDING = frozenset({State.UNACKNOWLEDGED})
ACTIVE = frozenset(
    {State.ACTIVE, State.UNACKNOWLEDGED, State.SILENCED, State.ACKNOWLEDGED, State.TRANSFERRED}
)


class Subject(msgspec.Struct, frozen=True, gc=False):
    """What a verdict is about. kind: 'own' | 'ais' | 'radar' | 'input' | 'part'.
    `key` is unique and lasting: 'own', 'ais:299001234', 'radar:12', 'input:gnss'."""

    key: str
    kind: str
    name: str
    mmsi: int | None = None


OWN_SHIP = Subject("own", "own", "own ship")


class AlertRecord(msgspec.Struct, kw_only=True):
    """Everything known of one alert instance; what the store keeps and outlets are shown.

    Times are engine seconds; `*_utc` texts are labels. In the store engine seconds are kept
    as they stand: engine time starts from the wall clock, so after a restart they are
    remaining-time arithmetic away, never trusted for timers across a clock step.
    """

    id: str  # rule slug, with the subject's key when it is not own ship
    number: int  # short, persisted, for people and for NMEA instances
    kind: str
    rule: str
    subject: Subject
    state: State = State.NORMAL
    occurrence: int = 0
    revision: int = 0
    base_priority: Priority = Priority.WARNING
    priority: Priority = Priority.WARNING
    level: int = 0  # escalation to people, 0-9
    condition: Literal["false", "pending", "true", "clearing", "unknown"] = "false"
    since_s: float | None = None  # when the condition became true
    raised_s: float | None = None  # when it was raised
    changed_s: float = 0.0
    cleared_s: float | None = None
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    lat: float | None = None
    lon: float | None = None
    data_at_s: float | None = None  # stamp of the data behind the value
    data_lost: bool = False
    title: str = ""  # at most 16 characters
    text: str = ""  # what a person reads
    facts: dict[str, Any] = {}  # the numbers behind it
    category: Literal["A", "B", "C"] = "B"
    acknowledged_by: str = ""
    acknowledged_where: str = ""
    acknowledged_through: str = ""
    acknowledged_s: float | None = None
    silenced_until_s: float | None = None
    shelved_until_s: float | None = None
    shelved_why: str = ""
    shelved_one_shot: bool = False  # the shelf ends with the first return to normal
    worse: bool = False  # a second limit has been crossed in this occurrence
    worse_s: float | None = None
    paged: tuple[str, ...] = ()  # outlets that were told of this occurrence
    transferred_to: str = ""
    call: tuple[str, ...] | None = None
    group: str | None = None  # id of the alert that speaks for this one
    folded: int = 0  # raises folded into this occurrence by chatter
    drill: bool = False
    restored: bool = False
    # The four questions apart, as alerts/ keeps them; `state` is derived from them.
    announcement: str = ""  # a phase of alerts/states.py
    suppression: str = "none"
    data_lost_s: float | None = None  # since when there is no data behind it
    urgent_s: float | None = None  # when it became an alarm: people are called from here
    stage_s: float = 0.0  # how far into that the calls have come
    worse_revision: int = 0  # the revision that told of the second limit
    raises: tuple[float, ...] = ()  # the latest raises, for chatter
    chattering: bool = False
    spent: bool = False  # an event that was acknowledged; not raised again while it lasts


class Transition(msgspec.Struct, frozen=True, kw_only=True):
    """A change of an alert's state: the line of `rehearse --json` and `log --json`.
    Field names and order are an interface."""

    at: str
    alert: str
    kind: str
    rule: str
    subject: str
    mmsi: int | None
    occurrence: int
    priority: str
    from_: str = msgspec.field(name="from")
    to: str
    reason: str
    value: float | None
    limit: float | None
    unit: str
    lat: float | None
    lon: float | None
    text: str
