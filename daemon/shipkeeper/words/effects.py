"""Effects: everything that the engine wants done. The shell does it; the engine never does.

Order within one batch is the order of doing. `Show` is for level outlets (the wanted state,
again and again); `Send` is for edge outlets (messages through the outbox); the rest is for
the store and for whoever asked.
"""

from __future__ import annotations

from typing import Any, Literal

import msgspec

from .alert import AlertRecord, Priority, Transition
from .scene import Scene


class _Effect(msgspec.Struct, frozen=True, kw_only=True):
    pass


class Wanted(_Effect, frozen=True, kw_only=True):
    """The sound and light wanted now: the most urgent thing that is not acknowledged.
    pattern: 'silence' 'caution' 'warning' 'alarm' 'alarm stage 2' 'emergency' 'fault'
    'drill'. lamp: 'off' 'steady' 'flash' 'slow'. `fresh` counts new announcements:
    a momentary pattern (warning) sounds once each time it grows. `clicks` counts answers to a
    person aboard; `click` is the latest: 'click' (taken) or 'refused', heard before all else."""

    pattern: str
    lamp: str = "off"
    fresh: int = 0
    outlets: tuple[str, ...] | None = None  # buzzers that may sound; None: all
    text: str = ""  # first line of what sounds
    click: str = ""
    clicks: int = 0


class Show(_Effect, frozen=True, kw_only=True):
    """The whole presentable state, for level outlets: alerts that are not normal, watch."""

    at: str
    watch: str
    crew: str
    alerts: tuple[AlertRecord, ...]
    watching: bool


class Message(msgspec.Struct, frozen=True, kw_only=True):
    """One thing to tell one outlet. `about` folds superseded ones; `id` folds duplicates."""

    id: str
    outlet: str
    at_s: float
    at: str
    event: Literal["raised", "cleared", "acknowledged", "repeat", "state", "note"]
    about: str  # alert id, or a topic of its own
    number: int
    occurrence: int
    priority: Priority
    state: str
    title: str
    line: str  # terse first line, for a lock screen
    text: str
    rule: str = ""
    subject: str = ""
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    lat: float | None = None
    lon: float | None = None
    drill: bool = False
    revision: int = 0  # of the alert when this was written; an answer may name it as `seen`
    scene: Scene | None = None  # what was to be seen when it was raised, for a picture


class Send(_Effect, frozen=True, kw_only=True):
    """Hand a message to the outbox."""

    message: Message


class Record(_Effect, frozen=True, kw_only=True):
    """Journal a transition and keep the alert as it now stands."""

    at_s: float
    transition: Transition
    alert: AlertRecord


class Keep(_Effect, frozen=True, kw_only=True):
    """Keep an alert's changed numbers without a transition (deadlines, counts)."""

    alert: AlertRecord


class Note(_Effect, frozen=True, kw_only=True):
    """A journal row that is no transition: a command, a change of watch, news of a wire."""

    at_s: float
    at: str
    kind: str  # 'command' 'watch' 'crew' 'input' 'outlet' 'store' 'worker' 'clock' 'drill' 'gap'
    text: str
    data: dict[str, Any] = {}


class Remember(_Effect, frozen=True, kw_only=True):
    """Keep a named piece of state over restarts; None forgets it."""

    key: str
    value: bytes | None


class Reply(_Effect, frozen=True, kw_only=True):
    """Answer to a command. code: 0 good, 1 done with warnings, 2 refused."""

    number: int
    code: int
    text: str
    data: dict[str, Any] = {}


Effect = Wanted | Show | Send | Record | Keep | Note | Remember | Reply
