"""One quantity from several inputs: the best fresh one is used, with fail-over and back.

Inputs are preferred in the order in which the orders list them. When the preferred one goes
stale the next fresh one takes over at once; the preferred one is taken back only after it has
been good for `SETTLE_S` without a break, or a half-dead wire would make the value hop.
"""

from __future__ import annotations

from typing import Generic, TypeVar

T = TypeVar("T")

SETTLE_S = 30.0  # data counts as back after 30 s of good data (our decision)
INTERVALS = 5.0  # stale after five of a sender's own intervals (our decision), within bounds
STALE_AT_MOST_S = 60.0


class Reading(Generic[T]):
    """A value with its source and the stamp it came at."""

    __slots__ = ("at_s", "source", "value")

    def __init__(self, value: T, source: str, at_s: float) -> None:
        self.value = value
        self.source = source
        self.at_s = at_s

    def __repr__(self) -> str:
        return f"Reading({self.value!r}, {self.source!r}, {self.at_s!r})"


class Channel(Generic[T]):
    """The readings of one quantity, by input."""

    __slots__ = (
        "_good_since", "_interval", "_latest", "_newest", "_order", "_stale", "current", "stale_s",
    )  # fmt: skip

    def __init__(self, order: dict[str, int], stale_s: float) -> None:
        self._order = order  # input -> rank, shared by all channels; unknown inputs rank last
        self.stale_s = stale_s
        self._latest: dict[str, Reading[T]] = {}
        self._newest: Reading[T] | None = None
        self._good_since: dict[str, float] = {}
        self._interval: dict[str, float] = {}
        self._stale: dict[str, float] = {}  # source -> how old its reading may be
        self.current: str | None = None

    def put(self, value: T, source: str, at_s: float) -> None:
        last = self._latest.get(source)
        if last is None or at_s - last.at_s > self.stale_after_s(source):
            self._good_since[source] = at_s
        elif at_s > last.at_s:
            self._learn(source, at_s - last.at_s)
        self._newest = self._latest[source] = Reading(value, source, at_s)
        if self.current is None or self.current != source:
            self._choose(at_s)

    def stale_after_s(self, source: str) -> float:
        """How old this input's reading may be: longer for a slow sender, never above a minute."""
        return self._stale.get(source, self.stale_s)

    def _learn(self, source: str, gap_s: float) -> None:
        """The sender's interval, smoothed; one long gap moves it little."""
        known = self._interval.get(source, gap_s)
        interval = known + 0.2 * (min(gap_s, 2 * known + 0.5) - known)
        self._interval[source] = interval
        # Worked out here: it is asked for far oftener than it is learnt.
        longest_s = max(STALE_AT_MOST_S, self.stale_s)
        self._stale[source] = min(max(self.stale_s, INTERVALS * interval), longest_s)

    def is_fresh(self, reading: Reading[T], now_s: float) -> bool:
        return now_s - reading.at_s <= self.stale_after_s(reading.source)

    def withdraw(self, source: str) -> None:
        """The source itself says that it has no valid value."""
        self._latest.pop(source, None)
        self._good_since.pop(source, None)
        if self.current == source:
            self.current = None

    def unsay(self, value: T, source: str) -> None:
        """Withdraw it if it is this value that the source has told last, not another's that
        talks on the same wire."""
        reading = self._latest.get(source)
        if reading is not None and reading.value == value:
            self.withdraw(source)

    def get(self, now_s: float) -> Reading[T] | None:
        """The reading to use now, or None when none is fresh."""
        current = self._latest.get(self.current) if self.current is not None else None
        if current is not None and self.is_fresh(current, now_s):
            if len(self._latest) > 1:
                self._choose(now_s)
                return self._latest[self.current] if self.current is not None else current
            return current
        self._choose(now_s)
        return self._latest[self.current] if self.current is not None else None

    def last(self) -> Reading[T] | None:
        """The newest reading of any input, however old, also of one that has none now (for
        'last known')."""
        return self._newest

    def of(self, source: str, now_s: float) -> Reading[T] | None:
        """That input's reading, when fresh."""
        reading = self._latest.get(source)
        return reading if reading is not None and self.is_fresh(reading, now_s) else None

    @property
    def has_several(self) -> bool:
        """Whether more than one input brings it."""
        return len(self._latest) > 1

    def fresh(self, now_s: float) -> list[Reading[T]]:
        """Every input's fresh reading, preferred inputs first."""
        good = [r for r in self._latest.values() if self.is_fresh(r, now_s)]
        return sorted(good, key=lambda r: self._rank(r.source))

    def _rank(self, source: str) -> int:
        return self._order.get(source, len(self._order))

    def _choose(self, now_s: float) -> None:
        good = self.fresh(now_s)
        if not good:
            self.current = None
            return
        held = [r for r in good if r.source == self.current]
        if not held:
            self.current = good[0].source
            return
        for reading in good:
            if reading.source == self.current:
                return
            if now_s - self._good_since[reading.source] >= SETTLE_S:
                self.current = reading.source
                return
