"""The whole transition table of an alert, as data. What is not in it is refused with a reason.

Four questions are kept apart for every alert (one rule, one subject):
1. condition     - does it hold?         false, pending, true, clearing, unknown (condition.py)
2. announcement  - who knows of it?      the phases and ROWS below
3. suppression   - is it kept quiet?     none, shelved, out of service (QUIET below)
4. escalation    - how far has it gone?  priority now, and level 0 to 9 (escalate.py)
The flat state that is published is derived from them, here and nowhere else.

Modelled on bridge alert management (IMO MSC.302(87)) and, for latching, shelving and out of
service, on ISA-18.2 / IEC 62682. The diagram in DEVELOPERS.md is made by `diagram()`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from enum import StrEnum

import msgspec

from ..words.alert import Reason, State


class Phase(StrEnum):
    """Announcement, and where nothing is announced, what is known of the condition."""

    UNKNOWN = "unknown"
    NORMAL = "normal"
    PENDING = "pending"
    ACTIVE = "active"  # cautions: nobody need acknowledge them
    UNACK = "unacknowledged"
    SILENCED = "silenced"
    ACK = "acknowledged"
    TRANSFERRED = "transferred"
    RECTIFIED = "rectified"
    LATCHED = "latched"
    LATCHED_ACK = "latched-acknowledged"


class Trigger(StrEnum):
    """All that may happen to an announcement."""

    DATA_LOST = "input lost"
    DATA_BACK = "good data"
    CONDITION_TRUE = "condition true"
    CONDITION_FALSE = "condition false"
    RAISE = "on-delay over"
    RECTIFY = "off-delay over"
    ACKNOWLEDGE = "acknowledge"
    ANSWER = "acknowledge from ashore, crew aboard"
    SILENCE = "silence"
    SILENCE_OVER = "silence over"
    OUTRANKED = "higher priority raised"
    ESCALATE = "escalate"
    WORSEN = "worse"
    REPEAT = "re-alarm"
    TRANSFER = "taken by another"
    HAND_BACK = "handed back"
    TAKER_LOST = "taker lost"
    RESET = "reset"
    RESTART = "restart"
    WITHDRAW = "rule not standing"


class Suppression(StrEnum):
    """Outputs are held; what is below goes on."""

    NONE = "none"
    SHELVED = "shelved"
    OUT_OF_SERVICE = "out-of-service"


class Quiet(StrEnum):
    """What may happen to the suppression."""

    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    SHELF_OVER = "the end of the shelf"
    WORSEN = "worse"
    WATCH_SET = "watch set"
    OUT = "out of service"
    IN = "in service"


class Row(msgspec.Struct, frozen=True):
    """One allowed step.

    needs: a trait the alert must have for this row ('' none): 'loud' (warning and up) or
    'caution'; 'latch' or 'free'; 'event' (stands until seen) or 'lasting'; 'lost' (no data).
    logged: a line of the journal even where the flat state stays.
    """

    phase: Phase
    trigger: Trigger
    to: Phase
    reason: Reason
    needs: str = ""
    logged: bool = False


P, T, R = Phase, Trigger, Reason

# Where an alert stands for something that may come true, or still be true.
HELD = (P.PENDING, P.ACTIVE, P.UNACK, P.SILENCED, P.ACK, P.TRANSFERRED, P.RECTIFIED,
        P.LATCHED, P.LATCHED_ACK)  # fmt: skip
RAISED = frozenset({P.ACTIVE, P.UNACK, P.SILENCED, P.ACK, P.TRANSFERRED})
OVER = (P.RECTIFIED, P.LATCHED, P.LATCHED_ACK)
UNSEEN = frozenset({P.UNACK, P.SILENCED})  # raised, and nobody has acknowledged or taken it

ROWS: tuple[Row, ...] = (
    # nothing is announced
    Row(P.UNKNOWN, T.DATA_BACK, P.NORMAL, R.CONDITION),
    Row(P.UNKNOWN, T.CONDITION_TRUE, P.PENDING, R.CONDITION),
    Row(P.UNKNOWN, T.WITHDRAW, P.NORMAL, R.WATCH),
    Row(P.UNKNOWN, T.RESTART, P.UNKNOWN, R.RESTART),
    Row(P.NORMAL, T.DATA_LOST, P.UNKNOWN, R.DATA_LOST),
    Row(P.NORMAL, T.CONDITION_TRUE, P.PENDING, R.CONDITION),
    Row(P.PENDING, T.CONDITION_FALSE, P.NORMAL, R.CONDITION),
    Row(P.PENDING, T.RAISE, P.UNACK, R.CONDITION, "loud"),
    Row(P.PENDING, T.RAISE, P.ACTIVE, R.CONDITION, "caution"),
    # a caution
    Row(P.ACTIVE, T.RECTIFY, P.NORMAL, R.CONDITION),
    Row(P.ACTIVE, T.WORSEN, P.UNACK, R.WORSE, "loud"),
    Row(P.ACTIVE, T.RESTART, P.ACTIVE, R.RESTART),
    # it sounds
    Row(P.UNACK, T.SILENCE, P.SILENCED, R.SILENCE),
    Row(P.UNACK, T.ACKNOWLEDGE, P.ACK, R.ACKNOWLEDGE, "lasting"),
    Row(P.UNACK, T.ACKNOWLEDGE, P.NORMAL, R.ACKNOWLEDGE, "event"),
    Row(P.UNACK, T.ANSWER, P.TRANSFERRED, R.ACKNOWLEDGE),
    Row(P.UNACK, T.TRANSFER, P.TRANSFERRED, R.ACKNOWLEDGE),
    Row(P.UNACK, T.ESCALATE, P.UNACK, R.ESCALATION, logged=True),
    Row(P.UNACK, T.WORSEN, P.UNACK, R.WORSE, logged=True),
    Row(P.UNACK, T.RECTIFY, P.RECTIFIED, R.CONDITION, "free"),
    Row(P.UNACK, T.RECTIFY, P.LATCHED, R.CONDITION, "latch"),
    Row(P.UNACK, T.RESTART, P.UNACK, R.RESTART, logged=True),
    # its sound is stopped for a moment
    Row(P.SILENCED, T.SILENCE_OVER, P.UNACK, R.SILENCE_OVER),
    Row(P.SILENCED, T.OUTRANKED, P.UNACK, R.SILENCE_OVER),
    Row(P.SILENCED, T.ACKNOWLEDGE, P.ACK, R.ACKNOWLEDGE, "lasting"),
    Row(P.SILENCED, T.ACKNOWLEDGE, P.NORMAL, R.ACKNOWLEDGE, "event"),
    Row(P.SILENCED, T.ANSWER, P.TRANSFERRED, R.ACKNOWLEDGE),
    Row(P.SILENCED, T.TRANSFER, P.TRANSFERRED, R.ACKNOWLEDGE),
    Row(P.SILENCED, T.ESCALATE, P.UNACK, R.ESCALATION),
    Row(P.SILENCED, T.WORSEN, P.UNACK, R.WORSE),
    Row(P.SILENCED, T.RECTIFY, P.RECTIFIED, R.CONDITION, "free"),
    Row(P.SILENCED, T.RECTIFY, P.LATCHED, R.CONDITION, "latch"),
    Row(P.SILENCED, T.RESTART, P.UNACK, R.RESTART),
    # somebody knows
    Row(P.ACK, T.RECTIFY, P.NORMAL, R.CONDITION, "free"),
    Row(P.ACK, T.RECTIFY, P.LATCHED_ACK, R.CONDITION, "latch"),
    Row(P.ACK, T.WORSEN, P.UNACK, R.WORSE),
    Row(P.ACK, T.REPEAT, P.UNACK, R.ESCALATION),
    Row(P.ACK, T.RESET, P.NORMAL, R.ACKNOWLEDGE, "lost"),
    Row(P.ACK, T.RESTART, P.ACK, R.RESTART),
    # somebody has it
    Row(P.TRANSFERRED, T.HAND_BACK, P.UNACK, R.ESCALATION),
    Row(P.TRANSFERRED, T.TAKER_LOST, P.UNACK, R.ESCALATION),
    Row(P.TRANSFERRED, T.ACKNOWLEDGE, P.ACK, R.ACKNOWLEDGE, "lasting"),
    Row(P.TRANSFERRED, T.ACKNOWLEDGE, P.NORMAL, R.ACKNOWLEDGE, "event"),
    Row(P.TRANSFERRED, T.SILENCE, P.TRANSFERRED, R.SILENCE),  # taken ashore, it sounds aboard
    Row(P.TRANSFERRED, T.SILENCE_OVER, P.TRANSFERRED, R.SILENCE_OVER),
    Row(P.TRANSFERRED, T.OUTRANKED, P.TRANSFERRED, R.SILENCE_OVER),
    Row(P.TRANSFERRED, T.WORSEN, P.UNACK, R.WORSE),
    Row(P.TRANSFERRED, T.RECTIFY, P.RECTIFIED, R.CONDITION, "free"),
    Row(P.TRANSFERRED, T.RECTIFY, P.LATCHED, R.CONDITION, "latch"),
    Row(P.TRANSFERRED, T.RESTART, P.TRANSFERRED, R.RESTART),
    # it is over, but not done with
    Row(P.RECTIFIED, T.ACKNOWLEDGE, P.NORMAL, R.ACKNOWLEDGE),
    Row(P.LATCHED, T.ACKNOWLEDGE, P.LATCHED_ACK, R.ACKNOWLEDGE),
    Row(P.LATCHED_ACK, T.RESET, P.NORMAL, R.ACKNOWLEDGE),
    *(Row(phase, T.RAISE, P.UNACK, R.CONDITION) for phase in OVER),
    *(Row(phase, T.CONDITION_TRUE, phase, R.CONDITION) for phase in OVER),
    *(Row(phase, T.CONDITION_FALSE, phase, R.CONDITION) for phase in OVER),
    *(Row(phase, T.RESTART, phase, R.RESTART) for phase in OVER),
    # lost data never leaves any of these: it only marks them and stops the off-delay
    *(Row(phase, T.DATA_LOST, phase, R.DATA_LOST) for phase in HELD),
    *(Row(phase, T.DATA_BACK, phase, R.CONDITION) for phase in HELD),
    # a person set another watch, or the rule is no longer in the orders: logged, never silent
    *(Row(phase, T.WITHDRAW, P.NORMAL, R.WATCH) for phase in HELD),
)

S, Q = Suppression, Quiet

# (suppression, what happens) -> suppression. The announcement below goes on by itself.
QUIET: dict[tuple[Suppression, Quiet], Suppression] = {
    (S.NONE, Q.SHELVE): S.SHELVED,
    (S.SHELVED, Q.UNSHELVE): S.NONE,
    (S.SHELVED, Q.SHELF_OVER): S.NONE,
    (S.SHELVED, Q.WORSEN): S.NONE,
    (S.SHELVED, Q.WATCH_SET): S.NONE,
    (S.NONE, Q.OUT): S.OUT_OF_SERVICE,
    (S.SHELVED, Q.OUT): S.OUT_OF_SERVICE,
    (S.OUT_OF_SERVICE, Q.IN): S.NONE,
}


def released(phase: Phase) -> Phase:
    """The phase after suppression ends: what is still so is announced afresh."""
    return P.UNACK if phase in RAISED and phase is not P.ACTIVE else phase


_FLAT = {
    P.UNKNOWN: State.UNKNOWN,
    P.NORMAL: State.NORMAL,
    P.PENDING: State.NORMAL,
    P.ACTIVE: State.ACTIVE,
    P.UNACK: State.UNACKNOWLEDGED,
    P.SILENCED: State.SILENCED,
    P.ACK: State.ACKNOWLEDGED,
    P.TRANSFERRED: State.TRANSFERRED,
    P.RECTIFIED: State.RECTIFIED,
    P.LATCHED: State.LATCHED,
    P.LATCHED_ACK: State.LATCHED_ACKNOWLEDGED,
}

# What a transition line says where the interface has no word of its own (DESIGN section 5).
PUBLISHED = {
    State.LATCHED: State.RECTIFIED,
    State.LATCHED_ACKNOWLEDGED: State.ACKNOWLEDGED,
    State.OUT_OF_SERVICE: State.SHELVED,
}

_BY_KEY: dict[tuple[Phase, Trigger], tuple[Row, ...]] = {}
for _row in ROWS:
    _key = (_row.phase, _row.trigger)
    _BY_KEY[_key] = (*_BY_KEY.get(_key, ()), _row)


class Refused(Exception):
    """A step that the table does not have; the text is the reason, for a person."""


def find_row(phase: Phase, trigger: Trigger, traits: Collection[str]) -> Row:
    """The row to take. Raises Refused when there is none."""
    for row in _BY_KEY.get((phase, trigger), ()):
        if not row.needs or row.needs in traits:
            return row
    raise Refused(why_not(phase, trigger))


def next_suppression(now: Suppression, what: Quiet) -> Suppression:
    """Raises Refused when it is not allowed."""
    try:
        return QUIET[now, what]
    except KeyError:
        raise Refused(f"it is {_SUPPRESSED[now]}") from None


def flat(phase: Phase, suppression: Suppression) -> State:
    """The state derived from the questions, as records carry it."""
    if suppression is S.SHELVED:
        return State.SHELVED
    if suppression is S.OUT_OF_SERVICE:
        return State.OUT_OF_SERVICE
    return _FLAT[phase]


def published(state: State) -> State:
    """The word for transition lines."""
    return PUBLISHED.get(state, state)


_SUPPRESSED = {
    S.NONE: "neither shelved nor out of service",
    S.SHELVED: "shelved already",
    S.OUT_OF_SERVICE: "out of service",
}

_WHY_NOT: dict[tuple[Phase, Trigger], str] = {
    (P.NORMAL, T.ACKNOWLEDGE): "it is over: there is nothing to acknowledge",
    (P.PENDING, T.ACKNOWLEDGE): "it is not raised yet",
    (P.UNKNOWN, T.ACKNOWLEDGE): "it cannot be judged now: there is nothing to acknowledge",
    (P.ACTIVE, T.ACKNOWLEDGE): "a caution needs no acknowledgement; it goes by itself",
    (P.ACK, T.ACKNOWLEDGE): "it is acknowledged already",
    (P.LATCHED_ACK, T.ACKNOWLEDGE): "it is acknowledged already; reset it to let it go",
    (P.SILENCED, T.SILENCE): "its sound is stopped already, and comes back by itself",
    (P.RECTIFIED, T.SILENCE): "it does not sound: it is over and waits to be acknowledged",
    (P.LATCHED, T.RESET): "acknowledge it first",
    (P.RECTIFIED, T.RESET): "it needs an acknowledgement, not a reset",
    (P.UNACK, T.RESET): "it is still so; acknowledge it",
    (P.SILENCED, T.RESET): "it is still so; acknowledge it",
    (P.ACK, T.RESET): "it is still so; it goes by itself when it is over",
    (P.ACK, T.TRANSFER): "it is acknowledged: there is nothing to take over",
    (P.TRANSFERRED, T.TRANSFER): "somebody has it already",
    (P.TRANSFERRED, T.ANSWER): "somebody has it already",
}


def why_not(phase: Phase, trigger: Trigger) -> str:
    """The reason a step is refused, for a person."""
    told = _WHY_NOT.get((phase, trigger))
    return told if told is not None else f"it is {phase}, so '{trigger}' does nothing"


def diagram() -> str:
    """The table as a mermaid state diagram; DEVELOPERS.md carries it, and a test compares."""
    lines = ["stateDiagram-v2", f"    [*] --> {P.NORMAL.name} : first judged"]
    lines += [f"    {a.name} --> {b.name} : {label}" for a, b, label in _arrows()]
    lines += [
        f"    note right of {P.ACK.name}",
        "        input lost never leaves an active state,",
        "        it only marks it and stops the off-delay",
        "    end note",
        f"    note right of {P.UNACK.name}",
        "        shelved and out of service lie over all of this,",
        "        what is below goes on and only the outputs are held",
        "    end note",
    ]
    return "\n".join(lines) + "\n"


def _arrows() -> Iterator[tuple[Phase, Phase, str]]:
    """(from, to, label), steps between the same two phases joined; silent stays left out."""
    joined: dict[tuple[Phase, Phase], list[str]] = {}
    for row in ROWS:
        if row.phase is row.to and not row.logged:
            continue
        label = f"{row.trigger} ({row.needs})" if row.needs else str(row.trigger)
        joined.setdefault((row.phase, row.to), []).append(label)
    for (start, end), labels in joined.items():
        yield start, end, " / ".join(labels)
