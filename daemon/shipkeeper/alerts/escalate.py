"""Escalation: what follows when nobody answers. Times from the raise, as data.

A warning that nobody acknowledges becomes an alarm after 60 s. An alarm goes to people on the
cadence of the watch-alarm standard (MSC.128(75): 15 s, 15 s, 90 s): again to the first, then
the second with the stronger sound, then everybody; then every three minutes, for as long as the
condition is true and nobody has answered. The call list of the orders adds who comes when.
"""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from ..words.orders import CallListEntry

WARNING_TO_ALARM_S = 60.0
CADENCE_S = (15.0, 30.0, 120.0)
THEN_EVERY_S = 180.0
WARNING_REPEAT_S = 60.0
STILL_TRUE_S = 1800.0  # an acknowledged alarm that is still true is told again (our decision)
MAX_LEVEL = 9


class Call(msgspec.Struct, frozen=True):
    """Who is called at one moment after the raise; None: everybody called so far, and all."""

    level: int
    after_s: float
    who: tuple[str, ...] | None


def stages(call_list: Sequence[CallListEntry]) -> tuple[Call, ...]:
    """The first calls in order of time: the cadence, and the call list of the orders."""
    moments: dict[float, tuple[str, ...]] = dict.fromkeys(CADENCE_S, ())
    for entry in call_list:
        moments[entry.after_s] = moments.get(entry.after_s, ()) + entry.call
    calls = []
    for level, after in enumerate(sorted(moments), start=1):
        everybody = after >= CADENCE_S[-1] and not moments[after]
        calls.append(Call(min(level, MAX_LEVEL), after, None if everybody else moments[after]))
    return tuple(calls)


def next_call(calls: Sequence[Call], done: int) -> Call:
    """The call after `done` calls: the listed ones, then everybody every three minutes."""
    if done < len(calls):
        return calls[done]
    beyond = done - len(calls) + 1
    return Call(min(done + 1, MAX_LEVEL), calls[-1].after_s + beyond * THEN_EVERY_S, None)
