"""A second opinion on where we are: other receivers, and our own AIS transponder.

Two that disagree by more than `APART_M` for `APART_FOR_S` cannot both be right; which of them
is wrong only a third can tell. (Figures: alerts.md, feature 104, our decision.)
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import msgspec

from ..words.geo import LatLon, east_north
from .channel import Reading

APART_M = 30.0
APART_FOR_S = 30.0
OLD_S = 10.0  # an older fix of the other says nothing of now
AIS = "own AIS"


class Apart(msgspec.Struct):
    """A pair that does not agree."""

    one: str
    other: str
    since_s: float
    apart_m: float


class SecondOpinions:
    """Pairs that disagree, since when, by how much. Compared when a fix comes in."""

    def __init__(self, order: dict[str, int], length_m: float) -> None:
        self._order = order
        self._limit_m = max(APART_M, length_m)  # antennas may stand at both ends of her
        self._apart: dict[tuple[str, str], Apart] = {}

    def compare(
        self, place: LatLon, source: str, at_s: float, others: Iterable[Reading[LatLon]],
        speed_ms: float,
    ) -> None:  # fmt: skip
        """A fix of `source` against the others' latest, each with its age."""
        for other in others:
            age_s = abs(at_s - other.at_s)
            if other.source == source or age_s > OLD_S:
                continue
            pair = (min(source, other.source), max(source, other.source))
            apart_m = math.hypot(*east_north(other.value, place)) - speed_ms * age_s
            if apart_m <= self._limit_m:
                self._apart.pop(pair, None)
                continue
            known = self._apart.get(pair)
            if known is None:
                self._apart[pair] = Apart(*pair, since_s=at_s, apart_m=apart_m)
            else:
                known.apart_m = apart_m

    def recall(self, one: str, other: str, apart_m: float, at_s: float) -> None:
        """An earlier run told that these two disagree: so it is until they are compared again."""
        pair = (min(one, other), max(one, other))
        self._apart[pair] = Apart(*pair, since_s=at_s - APART_FOR_S, apart_m=apart_m)

    def against(self, name: str, now_s: float) -> Apart | None:
        """The disagreement that speaks against this input, if there is one."""
        for pair in self._lasting(now_s):
            if self._blamed(pair, now_s) == name:
                return pair
        return None

    def _lasting(self, now_s: float) -> list[Apart]:
        return [pair for pair in self._apart.values() if now_s - pair.since_s >= APART_FOR_S]

    def _blamed(self, pair: Apart, now_s: float) -> str:
        """The one that a third contradicts too; else the one that the orders prefer less. Our
        own AIS is no input: its opinion is always against the input."""
        if AIS in (pair.one, pair.other):
            return pair.one if pair.other == AIS else pair.other
        for name, mate in ((pair.one, pair.other), (pair.other, pair.one)):
            for third in self._lasting(now_s):
                if name in (third.one, third.other) and mate not in (third.one, third.other):
                    return name
        return max((pair.one, pair.other), key=lambda n: (self._order.get(n, len(self._order)), n))
