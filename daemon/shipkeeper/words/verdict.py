"""Verdicts: what a rule says of its subjects now. The meeting point of rules and alerts.

A rule says what holds; it has no timers, no state machine and no texts. Delays, the off
side of the deadband and the announcement belong to alerts/ for all kinds alike.
"""

from __future__ import annotations

from typing import Any

import msgspec

from .alert import Subject


class Verdict(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One subject under one rule.

    holds: True, False, or None when it cannot be judged for lack of data.
    gone:  True only when the condition is false by at least the deadband. Between
           `holds` and `gone` the alert keeps the side it is on.
    at_once: so far beyond the limit that no confirming delay is due.
    worse: a second limit is crossed; announces again even when acknowledged.
    priority: this verdict asks for another priority than the orders' (a label), e.g. the
           drag rule's early warning; None: the orders'.
    call: only these outlets; None: those of the orders.
    facts: the numbers behind it, by the names that alerts/wording uses for the kind.
    """

    subject: Subject
    holds: bool | None
    gone: bool | None = None
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    lat: float | None = None
    lon: float | None = None
    data_at_s: float | None = None
    at_once: bool = False
    worse: bool = False
    priority: str | None = None
    call: tuple[str, ...] | None = None
    facts: dict[str, Any] = {}

    @property
    def is_gone(self) -> bool:
        """Cleared for certain: false and out of the deadband."""
        return self.holds is False and self.gone is not False


class Judgement(msgspec.Struct, frozen=True, gc=False):
    """All that one rule says at one moment.

    Subjects that are not open (no alert, nothing pending) and for which nothing holds may
    be left out. An open subject that is left out counts as unknown, never as gone.
    missing: inputs without which the rule as a whole cannot be judged ('position', 'depth');
    then no verdicts are due and every open subject is unknown. With verdicts: what a part of
    the rule lacks; what is said stands, and the feed tells what is missing.
    """

    verdicts: tuple[Verdict, ...] = ()
    missing: tuple[str, ...] = ()


NOTHING = Judgement()
