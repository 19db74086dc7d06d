"""What is wrong with an input: silent, invalid, not to be believed, at odds with another.

Facts are counted in picture/inputs.py and own_ship.py; here they are judged. One fault at a
time, the gravest first: a dead wire explains whatever its sentences lack.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec

from ..picture.second_opinion import AIS

if TYPE_CHECKING:
    from ..picture.inputs import InputHealth
    from ..picture.picture import Picture

GARBAGE_LEAST = 20  # lines in a minute, before 'mostly broken' is said of them
GARBAGE_SHARE = 0.5


class Fault(msgspec.Struct, frozen=True):
    """what: a word that alerts/wording.py knows. since_s: the last good data. is_proven: it has
    lasted long enough to be sure, no more patience is due."""

    what: str
    since_s: float
    is_proven: bool = False
    facts: dict[str, Any] = {}


def fault_of(
    picture: Picture, health: InputHealth, now_s: float, indicate_s: float
) -> Fault | None:
    """None when it is well, or when nothing that matters is due from it."""
    wire = _wire(picture, health, now_s, indicate_s)
    if wire is not None:
        return wire
    for what in owed_by(picture, health):
        last_s = health.last_s(health.last_what.get(what))
        late = now_s - last_s > indicate_s
        if what == "ais":
            silent_s = health.ear.silent_since(now_s)
            if silent_s is not None:
                return Fault("no ais", health.last_s(silent_s))
            if health.is_garbled(now_s):
                return Fault("errors", health.last_s(health.last_what.get("ais")))
        elif what == "position" and health.name in picture.own.invalid_since:
            return Fault("no fix", min(last_s, picture.own.invalid_since[health.name]))
        elif what == "position" and health.withheld:
            return Fault(health.withheld, last_s)
        elif late and what not in health.stuck and what != "radar":
            return Fault(_cause(health, now_s) or f"no {what}", last_s)
    for what, since_s in health.stuck.items():  # a wrong figure is told, whoever needs it
        return Fault(f"stuck {what}", health.last_s(since_s))
    apart = picture.opinions.against(health.name, now_s)
    if apart is None:
        return None
    other = apart.one if apart.other == health.name else apart.other
    facts = {"other": other, "apart_m": apart.apart_m}
    return Fault("echo" if other == AIS else "disagree", apart.since_s, True, facts)


def _wire(picture: Picture, health: InputHealth, now_s: float, indicate_s: float) -> Fault | None:
    """The whole wire: gone, or without a word."""
    expected = picture.inputs.expected.get(health.name, ())
    last_s = health.last_s(health.last_line_s)
    if now_s - last_s <= indicate_s or not (expected or affected_by(picture, health)):
        return None
    if health.up is False:
        return Fault("lost", last_s)
    if set(expected) <= {"ais", "radar"}:
        # An empty bay is no fault: only one that told of itself can fall silent.
        silent_s = health.ear.silent_since(now_s)
        if "ais" in expected:
            return None if silent_s is None else Fault("silent", health.last_s(silent_s))
    return Fault("silent", last_s)


def _cause(health: InputHealth, now_s: float) -> str:
    """Why nothing comes though the wire is busy: 'errors' (a wrong speed, a bad plug)."""
    share, lines = health.error_rate(now_s)
    return "errors" if lines >= GARBAGE_LEAST and share > GARBAGE_SHARE else ""


def owed_by(picture: Picture, health: InputHealth) -> list[str]:
    """What this input should bring: what the orders expect, and what it once brought and
    a rule now lacks."""
    owed = list(picture.inputs.expected.get(health.name, ()))
    lacking = {what for missing in picture.blind.values() for what in missing}
    owed += [what for what in health.last_what if what in lacking and what not in owed]
    return owed


def affected_by(picture: Picture, health: InputHealth) -> tuple[str, ...]:
    """Rules that cannot be judged for lack of what this input brings."""
    brings = set(picture.inputs.expected.get(health.name, ())) | set(health.last_what)
    return tuple(
        rule for rule, missing in picture.blind.items() if any(w in brings for w in missing)
    )


def instead_of(picture: Picture, health: InputHealth, now_s: float) -> dict[str, str]:
    """What this input should bring -> the input that brings it now in its place."""
    own = picture.own
    channels: dict[str, Any] = {
        "position": own.position,
        "heading": own.heading,
        "depth": own.depth,
        "wind": own.apparent,
    }
    found = {}
    for what in picture.inputs.expected.get(health.name, ()):
        reading = channels[what].get(now_s) if what in channels else None
        if reading is not None and reading.source != health.name:
            found[what] = reading.source
    return found
