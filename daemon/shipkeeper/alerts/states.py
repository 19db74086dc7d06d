"""The states of an alert and every way between them, in one table. Read this file first.

Four questions are kept apart for every instance (one rule, one subject):

1. condition    false, pending, true, clearing, unknown: condition.py answers it from verdicts;
2. announcement the states in TABLE below: what a person is owed;
3. suppression  shelved or out of service: lies over the announcement, which goes on below it;
4. escalation   priority now and level: escalate.py counts it up while nobody answers.

TABLE is the whole of question 2. What is not in it does not happen: `step` refuses it with a
reason, which is what the person at the other end is told. Modelled on bridge alert management
(IMO MSC.302(87)) and process-alarm practice (ISA-18.2); nothing here claims to comply.
"""

from __future__ import annotations

from enum import StrEnum

from ..words.alert import State

S = State


class Step(StrEnum):
    """What can happen to an announcement."""

    RAISE = "raise"  # on-delay over
    RAISE_CAUTION = "raise caution"  # nobody need acknowledge
    RECTIFY = "rectify"  # off-delay over
    LATCH = "latch"  # off-delay over, but the rule latches
    ACKNOWLEDGE = "acknowledge"
    SILENCE = "silence"
    SILENCE_OVER = "silence over"
    ESCALATE = "escalate"  # priority up, or unanswered
    WORSE = "worse"  # a second limit
    REPEAT = "repeat"  # acknowledged long ago and still true
    TRANSFER = "transfer"  # somebody not aboard has taken it
    HAND_BACK = "hand back"  # the taker is lost or gives it back
    RESET = "reset"  # of a latched one
    BLIND = "blind"  # the rule cannot be judged
    SIGHTED = "sighted"  # it can again
    RESTART = "restart"  # the daemon started with this remembered
    WITHDRAW = "withdraw"  # the rule stands no longer


_UNANSWERED = (S.UNACKNOWLEDGED, S.SILENCED, S.TRANSFERRED)

TABLE: dict[tuple[State, Step], State] = {
    (S.NORMAL, Step.RAISE): S.UNACKNOWLEDGED,
    (S.NORMAL, Step.RAISE_CAUTION): S.ACTIVE,
    (S.NORMAL, Step.BLIND): S.UNKNOWN,
    (S.UNKNOWN, Step.SIGHTED): S.NORMAL,
    (S.UNKNOWN, Step.RAISE): S.UNACKNOWLEDGED,
    (S.UNKNOWN, Step.RAISE_CAUTION): S.ACTIVE,
    (S.UNKNOWN, Step.WITHDRAW): S.NORMAL,
    (S.ACTIVE, Step.RECTIFY): S.NORMAL,
    (S.ACTIVE, Step.RESTART): S.ACTIVE,
    (S.ACTIVE, Step.WITHDRAW): S.NORMAL,
    (S.ACTIVE, Step.ESCALATE): S.UNACKNOWLEDGED,
    (S.ACTIVE, Step.WORSE): S.UNACKNOWLEDGED,
    (S.UNACKNOWLEDGED, Step.SILENCE): S.SILENCED,
    (S.UNACKNOWLEDGED, Step.ESCALATE): S.UNACKNOWLEDGED,
    (S.UNACKNOWLEDGED, Step.WORSE): S.UNACKNOWLEDGED,
    (S.SILENCED, Step.SILENCE): S.SILENCED,
    (S.SILENCED, Step.SILENCE_OVER): S.UNACKNOWLEDGED,
    (S.SILENCED, Step.ESCALATE): S.UNACKNOWLEDGED,
    (S.SILENCED, Step.WORSE): S.UNACKNOWLEDGED,
    (S.SILENCED, Step.RESTART): S.UNACKNOWLEDGED,
    (S.UNACKNOWLEDGED, Step.RESTART): S.UNACKNOWLEDGED,
    (S.TRANSFERRED, Step.RESTART): S.UNACKNOWLEDGED,
    (S.TRANSFERRED, Step.HAND_BACK): S.UNACKNOWLEDGED,
    (S.TRANSFERRED, Step.WORSE): S.UNACKNOWLEDGED,
    (S.UNACKNOWLEDGED, Step.TRANSFER): S.TRANSFERRED,
    (S.SILENCED, Step.TRANSFER): S.TRANSFERRED,
    (S.ACKNOWLEDGED, Step.RECTIFY): S.NORMAL,
    (S.ACKNOWLEDGED, Step.LATCH): S.LATCHED_ACKNOWLEDGED,
    (S.ACKNOWLEDGED, Step.WORSE): S.UNACKNOWLEDGED,
    (S.ACKNOWLEDGED, Step.REPEAT): S.UNACKNOWLEDGED,
    (S.ACKNOWLEDGED, Step.RESTART): S.ACKNOWLEDGED,
    (S.ACKNOWLEDGED, Step.WITHDRAW): S.NORMAL,
    (S.RECTIFIED, Step.ACKNOWLEDGE): S.NORMAL,
    (S.RECTIFIED, Step.RAISE): S.UNACKNOWLEDGED,
    (S.RECTIFIED, Step.RESTART): S.RECTIFIED,
    (S.RECTIFIED, Step.WITHDRAW): S.NORMAL,
    (S.LATCHED, Step.ACKNOWLEDGE): S.LATCHED_ACKNOWLEDGED,
    (S.LATCHED, Step.RAISE): S.UNACKNOWLEDGED,
    (S.LATCHED, Step.RESTART): S.LATCHED,
    (S.LATCHED, Step.WITHDRAW): S.NORMAL,
    (S.LATCHED_ACKNOWLEDGED, Step.RESET): S.NORMAL,
    (S.LATCHED_ACKNOWLEDGED, Step.RAISE): S.UNACKNOWLEDGED,
    (S.LATCHED_ACKNOWLEDGED, Step.RESTART): S.LATCHED_ACKNOWLEDGED,
    (S.LATCHED_ACKNOWLEDGED, Step.WITHDRAW): S.NORMAL,
}
for _state in _UNANSWERED:
    TABLE[(_state, Step.ACKNOWLEDGE)] = S.ACKNOWLEDGED
    TABLE[(_state, Step.RECTIFY)] = S.RECTIFIED
    TABLE[(_state, Step.LATCH)] = S.LATCHED
    TABLE[(_state, Step.WITHDRAW)] = S.NORMAL

# What is published where the interface has no word of its own.
PUBLISHED = {
    S.LATCHED: S.RECTIFIED,
    S.LATCHED_ACKNOWLEDGED: S.ACKNOWLEDGED,
    S.OUT_OF_SERVICE: S.SHELVED,
}

_REFUSED = {
    (S.NORMAL, Step.ACKNOWLEDGE): "nothing to acknowledge: it is over",
    (S.UNKNOWN, Step.ACKNOWLEDGE): "nothing to acknowledge: it cannot be judged now",
    (S.ACTIVE, Step.ACKNOWLEDGE): "a caution needs no acknowledgement",
    (S.ACKNOWLEDGED, Step.ACKNOWLEDGE): "it is acknowledged already",
    (S.LATCHED_ACKNOWLEDGED, Step.ACKNOWLEDGE): "it is acknowledged already; reset it",
}


class Refused(Exception):
    """A step that the table does not have; the text is for a person."""


def step(state: State, what: Step) -> State:
    """The state after `what`; Refused when the table has no such step."""
    after = TABLE.get((state, what))
    if after is None:
        why = _REFUSED.get((state, what), f"{what} does not apply while {state}")
        raise Refused(why)
    return after


def diagram() -> str:
    """The table as a mermaid state diagram; DEVELOPERS.md carries it, and a test compares."""
    arrows: dict[tuple[State, State], list[str]] = {}
    for (before, what), after in TABLE.items():
        arrows.setdefault((before, after), []).append(what)
    lines = ["stateDiagram-v2", "    [*] --> normal"]
    for (before, after), whats in arrows.items():
        lines.append(f"    {_node(before)} --> {_node(after)} : {', '.join(whats)}")
    return "\n".join(lines)


def _node(state: State) -> str:
    return state.value.replace("-", "_")
