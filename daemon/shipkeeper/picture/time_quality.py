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
# A receiver further than this from a clock that is trusted tells no GPS time at all: local time,
# or the date of a count of weeks that has run over (ours).
ASTRAY_S = 600.0


class TimeLabel:
    """Engine seconds -> UTC seconds, with the quality of that label."""

    def __init__(self) -> None:
        self.offset_s = 0.0
        self.quality = "assumed"  # assumed | none | system | synchronised | gnss
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
        utc_s = dated_s(second_of_day, date)
        if utc_s is None or not EARLIEST <= utc_s <= LATEST:
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

    def astray_s(self, utc_s: float, at_s: float) -> float | None:
        """How far that receiver's dated time is ahead of the truth (s); 0 when it is not out of
        reason, None when nobody can tell. A computer's clock that was never set is no judge."""
        out_of_era = not EARLIEST <= utc_s <= LATEST
        if self.quality == "none" or (self.quality == "system" and not out_of_era):
            return None if not out_of_era else utc_s - self.utc_s(at_s)
        ahead_s = utc_s - self.utc_s(at_s)
        return ahead_s if out_of_era or abs(ahead_s) > ASTRAY_S else 0.0


def dated_s(second_of_day: float, date: tuple[int, int, int]) -> float | None:
    """UNIX seconds; None for a day that no calendar has."""
    try:
        return datetime(*date, tzinfo=UTC).timestamp() + second_of_day
    except ValueError:
        return None
