"""The contract of a rule: one standing order of one kind, judged on a fixed grid.

A kind is one file here: a struct with its orders (a subclass of RuleOrders, declaring table,
defaults and bounds), and a class that judges. The struct's `build` makes the rule; the
registry in __init__ lists the structs. Nothing else in the house needs to know the kind,
but alerts/wording, which has its texts.

What must never happen in a rule: reading a clock, keeping a timer, calling a person,
treating an absent reading as a number or as a good one.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Protocol

from ..words.alert import OWN_SHIP, Subject
from ..words.orders import RuleOrders
from ..words.verdict import NOTHING, Judgement, Verdict

if TYPE_CHECKING:
    from ..picture.picture import Picture

__all__ = ["NOTHING", "OWN_SHIP", "Judgement", "Memoryless", "Rule", "Subject", "Verdict", "over"]


class Rule(Protocol):
    """One rule, built from one table of the orders."""

    orders: RuleOrders
    prompt: bool  # judged at every event, not only on the grid (contact, distress)

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        """What holds now. `open_keys`: keys of subjects with an alert or something pending;
        for these a verdict is due also when nothing holds any more."""
        ...

    def watch_set(self, picture: Picture, now_s: float) -> None:
        """A watch in which this rule stands was set (or changed to) now."""
        ...

    def remember(self) -> bytes | None:
        """State to keep over restarts, small; None when there is none."""
        ...

    def recall(self, state: bytes, now_s: float) -> None:
        """State of an earlier run. Unreadable state is left aside, never an error."""
        ...


class Memoryless:
    """For rules that judge the moment alone: nothing to set, to keep or to recall."""

    def watch_set(self, picture: Picture, now_s: float) -> None:
        return None

    def remember(self) -> bytes | None:
        return None

    def recall(self, state: bytes, now_s: float) -> None:
        return None


def over(value: float, limit: float, deadband: float) -> tuple[bool, bool]:
    """(holds, gone) for 'value above limit' with the deadband below it."""
    return value > limit, value <= limit - deadband
