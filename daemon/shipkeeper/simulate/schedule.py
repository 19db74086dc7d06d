"""Straight lines between knots in time, read in order: mean wind, stream, tide."""

from collections.abc import Sequence
from itertools import pairwise


class Schedule:
    """Two values at a time that only goes forward; held flat outside the knots."""

    __slots__ = ("_a", "_at", "_b", "_flat_to_s", "_from_s", "_knots", "_slope_a", "_slope_b")

    def __init__(self, knots: Sequence[tuple[float, float, float]]) -> None:
        """Knots are (time, value, value), at least one, times not falling."""
        if not knots:
            raise ValueError("a schedule needs at least one knot")
        if any(after[0] < before[0] for before, after in pairwise(knots)):
            raise ValueError("the knots of a schedule must not go back in time")
        self._knots = tuple(knots)
        self._at = -1
        self._from_s, self._a, self._b = knots[0]
        self._slope_a = self._slope_b = 0.0
        self._flat_to_s = knots[0][0]

    def at(self, t_s: float) -> tuple[float, float]:
        """The values at a time, linear between knots."""
        if t_s >= self._flat_to_s:
            self._advance(t_s)
        past = t_s - self._from_s
        return self._a + past * self._slope_a, self._b + past * self._slope_b

    def _advance(self, t_s: float) -> None:
        """Find the line that `t_s` lies on."""
        knots = self._knots
        last = len(knots) - 1
        at = max(self._at, 0)
        while at < last and knots[at + 1][0] <= t_s:
            at += 1
        self._at = at
        self._from_s, self._a, self._b = knots[at]
        if at == last:
            self._slope_a = self._slope_b = 0.0
            self._flat_to_s = float("inf")
            return
        end_s, end_a, end_b = knots[at + 1]
        self._flat_to_s = end_s
        self._slope_a = (end_a - self._a) / (end_s - self._from_s)
        self._slope_b = (end_b - self._b) / (end_s - self._from_s)
