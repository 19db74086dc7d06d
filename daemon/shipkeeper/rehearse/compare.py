"""Two rehearsals of the same recordings set beside each other, alert by alert."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import msgspec

from .occurrences import Occurrence, occurrences
from .told import Outcome

APART_S = 600.0  # raises of one alert this near to each other are the same event

Change = Literal["same", "earlier", "later", "other priority", "new", "gone"]


class Compared(msgspec.Struct, kw_only=True):
    """One alert that was raised under the one orders, the other, or both."""

    change: Change
    alert: str
    first: Occurrence | None = None
    second: Occurrence | None = None
    seconds: float | None = None  # second less first, where both raised it

    @property
    def at_s(self) -> float:
        return min(o.raised_s for o in (self.first, self.second) if o is not None)


def compare(first: Sequence[Outcome], second: Sequence[Outcome]) -> list[Compared]:
    """In order of time. `first` are the orders as they are, `second` those asked about."""
    found = []
    for before, after in zip(first, second, strict=True):
        found += _passage(occurrences(before.told), occurrences(after.told))
    return sorted(found, key=lambda c: (c.at_s, c.alert))


def _passage(first: Sequence[Occurrence], second: Sequence[Occurrence]) -> list[Compared]:
    # First what is told in the same way, a caution with a caution, then whatever is left.
    pairs: list[tuple[Occurrence, Occurrence]] = []
    left, free = list(first), list(second)
    for alike in (True, False):
        for one in list(left):
            other = next(
                (
                    o
                    for o in free
                    if o.alert == one.alert
                    and (o.announced == one.announced or not alike)
                    and _same(one, o)
                ),
                None,
            )
            if other is not None:
                left.remove(one)
                free.remove(other)
                pairs.append((one, other))
    found = [_pair(one, other) for one, other in pairs]
    found += [Compared(change="gone", alert=o.alert, first=o) for o in left]
    found += [Compared(change="new", alert=o.alert, second=o) for o in free]
    return found


def _same(a: Occurrence, b: Occurrence) -> bool:
    """The same event: raised at nearly the same time, or the one still stood when the other
    was raised."""
    if abs(a.raised_s - b.raised_s) <= APART_S:
        return True
    early, late = (a, b) if a.raised_s <= b.raised_s else (b, a)
    return early.cleared_s is None or late.raised_s <= early.cleared_s


def _pair(one: Occurrence, other: Occurrence) -> Compared:
    seconds = round(other.raised_s - one.raised_s, 3)
    change: Change = "same"
    if one.priority != other.priority:
        change = "other priority"
    elif seconds < 0:
        change = "earlier"
    elif seconds > 0:
        change = "later"
    return Compared(change=change, alert=one.alert, first=one, second=other, seconds=seconds)
