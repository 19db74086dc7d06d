"""The time that a receiver tells: does it go on, stand still, go back or leap?

A receiver whose time stands still repeats an old fix for ever; one whose time goes back is
replaying, or has lost itself. Both look alive. Only the time of day is compared, so that a wrong
date or a week rollover is no fault of its fixes; a leap second is a step of nothing. The date is
looked at by itself (`ReceiverDate`): it labels nothing when it is wrong, and that is told.
"""

from __future__ import annotations

from ..words.timing import utc_text

FROZEN_S = 10.0  # the same second said again for this long; ours
BACK_S = 2.0  # two receivers on one wire are a second apart, leap seconds make two; ours
LEAP_S = 60.0  # ahead of our own clock by so much at one step; ours
DATE_S = 60.0  # so long must a date be wrong, or good again; ours
SETTLE_S = 30.0  # so long must it go well before it is believed again; ours


class ReceiverClock:
    """One speaker's time: a talker and its sentence, on one wire."""

    __slots__ = (
        "_at_s",
        "_frozen_since_s",
        "_highest",
        "_repeated_s",
        "_second",
        "_what",
        "_wild_s",
    )

    def __init__(self) -> None:
        self._second: float | None = None
        self._highest = 0.0  # as far as it had come before it went back
        self._at_s = 0.0
        self._frozen_since_s: float | None = None  # stamp at which this second was first said
        self._repeated_s = 0.0  # and last said again
        self._wild_s: float | None = None  # last step back or leap ahead
        self._what = ""

    def hear(self, second_of_day: float, at_s: float) -> None:
        last, passed_s = self._second, at_s - self._at_s
        self._second, began_s, self._at_s = second_of_day, self._at_s, at_s
        if last is None:
            self._highest = second_of_day
            return
        step = _step(last, second_of_day)
        if step == 0.0:
            if self._frozen_since_s is None:
                self._frozen_since_s = began_s
            self._repeated_s = at_s
            return
        self._frozen_since_s = None
        behind_s = -_step(self._highest, second_of_day)
        if self._wild_s is not None and at_s - self._wild_s >= SETTLE_S:
            self._wild_s, behind_s = None, 0.0  # it has gone on for long from where it went
        if behind_s <= 0.0:
            self._highest = second_of_day
        if step < 0.0 and behind_s > BACK_S:
            self._wild_s, self._what = at_s, "time back"
        elif step > passed_s + LEAP_S:
            self._wild_s, self._what = at_s, "time leap"

    def fault(self, now_s: float) -> str:
        """'' when well, else 'frozen', 'time back' or 'time leap'."""
        since_s = self._frozen_since_s
        if since_s is not None and self._repeated_s - since_s >= FROZEN_S:
            return "frozen"
        if self._wild_s is not None and now_s - self._wild_s < SETTLE_S:
            return self._what
        return ""


class ReceiverDate:
    """The dated time that one input tells: whether it has been out of all reason for long."""

    __slots__ = ("_turned_s", "_wrong", "ahead_s", "is_astray", "told_s")

    def __init__(self) -> None:
        self.is_astray: bool | None = None  # not known yet
        self.told_s = 0.0  # UNIX seconds as it last told them wrongly
        self.ahead_s = 0.0  # of the truth; negative: behind
        self._wrong = False
        self._turned_s: float | None = None  # since when it is as it is now

    @property
    def told(self) -> str:
        """As it last told it wrongly: '2006-10-27 01:00'."""
        return utc_text(self.told_s)[:16].replace("T", " ")

    def hear(self, utc_s: float, ahead_s: float | None, at_s: float) -> None:
        """ahead_s as time_quality.astray_s has it; None: nobody can tell, nothing changes."""
        if ahead_s is None:
            return
        wrong = ahead_s != 0.0
        if wrong:
            self.told_s, self.ahead_s = utc_s, ahead_s
        if wrong != self._wrong or self._turned_s is None:
            self._wrong, self._turned_s = wrong, at_s
        if at_s - self._turned_s >= DATE_S:
            self.is_astray = wrong


def _step(before: float, after: float) -> float:
    """Seconds from one time of day to the other, the shorter way round midnight."""
    return (after - before + 43_200.0) % 86_400.0 - 43_200.0
