"""UTC as a label: what the computer and the receivers say, and how far to trust it.

Engine time drives every timer; UTC only labels. While the computer's clock is held good
(or nothing was said against it, as in a rehearsal) the label is engine time itself. When the
computer has no idea (no battery clock), the receivers' dated time gives the offset, after
`AGREE` readings that agree, and a date of some other era (week rollover) is refused.
"""

from __future__ import annotations

from datetime import UTC, datetime

AGREE = 3
AGREE_WITHIN_S = 2.0
SYSTEM_OFF_S = 60.0  # an unsynchronised system clock this far from the receiver's gives way
EARLIEST = datetime(2020, 1, 1, tzinfo=UTC).timestamp()  # before: a receiver in a past era
LATEST = datetime(2080, 1, 1, tzinfo=UTC).timestamp()


class TimeLabel:
    """Engine seconds -> UTC seconds, with the quality of that label."""

    def __init__(self) -> None:
        self.offset_s = 0.0
        self.quality = "assumed"  # assumed | none | system | synchronised | gnss
        self.refused_era = False  # a receiver's date was out of all reason
        self._agreeing = 0
        self._candidate = 0.0

    def utc_s(self, at_s: float) -> float:
        return at_s + self.offset_s

    def computer(self, utc_s: float, quality: str, at_s: float) -> None:
        """The computer's own word (ClockNews)."""
        if quality == "synchronised" or self.quality in ("assumed", "system"):
            if quality == "synchronised":
                self.offset_s = round(utc_s - at_s, 3) if abs(utc_s - at_s) > 1.0 else 0.0
            self.quality = quality
        elif self.quality == "synchronised":
            self.quality = quality

    def receiver(self, second_of_day: float, date: tuple[int, int, int], at_s: float) -> None:
        """A dated time from a receiver."""
        if self.quality in ("assumed", "synchronised"):
            return
        try:
            midnight = datetime(*date, tzinfo=UTC).timestamp()
        except ValueError:
            return
        utc_s = midnight + second_of_day
        if not EARLIEST <= utc_s <= LATEST:
            self.refused_era = True
            return
        offset = utc_s - at_s
        if abs(offset - self._candidate) > AGREE_WITHIN_S:
            self._candidate, self._agreeing = offset, 0
        self._agreeing += 1
        if self._agreeing < AGREE:
            return
        limit = SYSTEM_OFF_S if self.quality == "system" else AGREE_WITHIN_S
        if self.quality == "none" or abs(offset - self.offset_s) > limit:
            self.offset_s = round(offset, 3)
            self.quality = "gnss"
