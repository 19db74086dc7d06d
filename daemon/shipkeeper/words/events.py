"""Events: everything that can happen to the engine. Nothing else reaches it.

Every event has `at_s`: the engine's clock in seconds, rounded to a millisecond, stamped at
the inbox under its lock. Engine time is monotonic within a run; its numbers start out equal
to UNIX time as the computer knew it at start, so that a recording's stamps are the very
same numbers. What UTC really is, is told apart by `ClockNews` and the feed, for labels only.
"""

from __future__ import annotations

from typing import Any, Literal

import msgspec


class _Event(msgspec.Struct, frozen=True, gc=False, tag=True, omit_defaults=True):
    at_s: float


class Line(_Event, frozen=True, gc=False, tag=True, omit_defaults=True):
    """One framed line from an input: a sentence candidate (with its TAG block) or junk."""

    input: str
    text: str


class InputNews(_Event, frozen=True, gc=False, tag=True, omit_defaults=True):
    """A wire came up or went down."""

    input: str
    up: bool
    why: str = ""


class ContactNews(_Event, frozen=True, gc=False, tag=True, omit_defaults=True):
    """A contact (GPIO input) changed, already debounced."""

    contact: str
    closed: bool | None  # None: cannot be read


class OutletNews(_Event, frozen=True, gc=False, tag=True, omit_defaults=True):
    """An outlet began or ceased to work, or proved a delivery."""

    outlet: str
    up: bool
    why: str = ""


class StoreNews(_Event, frozen=True, gc=False, tag=True, omit_defaults=True):
    """The store failed, stalled or works again. lost: it may have held a watch that is not kept
    now, since nothing of it could be read."""

    ok: bool
    why: str = ""
    lost: bool = False


class WorkerNews(_Event, frozen=True, gc=False, tag=True, omit_defaults=True):
    """A thread at the edge died, hangs or lives again."""

    worker: str
    ok: bool
    why: str = ""


class ClockNews(_Event, frozen=True, gc=False, tag=True, omit_defaults=True):
    """What the computer holds UTC to be: utc_s at this engine time, and how well it knows.
    quality: 'none' (no idea), 'system' (unsynchronised), 'synchronised'."""

    utc_s: float
    quality: Literal["none", "system", "synchronised"]


class Tick(_Event, frozen=True, gc=False, tag=True, omit_defaults=True):
    """Only time has passed."""


class Gap(_Event, frozen=True, gc=False, tag=True, omit_defaults=True):
    """Nobody watched since `since_s`: the machine slept, or the program was held."""

    since_s: float


class Command(_Event, frozen=True, gc=False, tag=True, omit_defaults=True):
    """A person's word, through whatever wire it comes: the one way in for all of them.
    Arguments are plain JSON values; `number` pairs it with its reply. where: 'aboard' |
    'ashore'; through: 'command line', 'button', 'mqtt', 'nmea', 'push' (what each may say is in
    alerts/admitting.py). An answer to an alert names it with `id` (id or number) and, from afar,
    the `occurrence` that was seen; `seen` is the revision of that message.
    key, counter, sent_s: of a signed command (words/signed.py)."""

    number: int
    verb: str
    args: dict[str, Any] = {}
    who: str = ""
    where: Literal["aboard", "ashore"] = "aboard"
    through: str = "command line"
    key: str = ""
    counter: int | None = None
    sent_s: float | None = None  # UNIX seconds by the sender's clock


Event = (
    Line
    | InputNews
    | ContactNews
    | OutletNews
    | StoreNews
    | WorkerNews
    | ClockNews
    | Tick
    | Gap
    | Command
)

# What a recording keeps besides lines: without these a rehearsal would differ.
KEPT = (InputNews, ContactNews, OutletNews, StoreNews, WorkerNews, ClockNews, Gap, Command)
