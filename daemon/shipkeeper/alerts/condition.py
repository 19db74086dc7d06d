"""Does it hold? On-delay, off-delay, deadband and lost data of one alert, with exact due times.

Rules only say what holds now; every delay is here, for all kinds alike. Principles of
alert handling: the moment a condition became true is kept apart from the moment it was
raised; a pending alert that loses its input goes on as if it were true, for a boat may drag
while the receiver is dark; an active one never clears by lack of data, and its off-delay cannot
run until data has been good for a while.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from .states import Trigger

Condition = Literal["false", "pending", "true", "clearing", "unknown"]
GOOD_DATA_S = 30.0  # data must have been good this long before an alert may clear (ours)


class Delays(msgspec.Struct, frozen=True):
    """On-delay and off-delay, seconds."""

    confirm_s: float
    clear_s: float


class Proof(msgspec.Struct):
    """What is proven of one condition, and what falls due when. Times in engine seconds."""

    condition: Condition = "false"
    since_s: float | None = None  # when it became true
    on_due_s: float | None = None
    off_due_s: float | None = None
    good_due_s: float | None = None
    data_lost: bool = False
    data_lost_s: float | None = None

    def judged(
        self, holds: bool, gone: bool, at_once: bool, at_s: float, delays: Delays, raised: bool
    ) -> list[Trigger]:
        """A verdict with data behind it. `raised`: the alert is active, so this is about
        clearing; else about raising. Returns what happened, in order."""
        if raised:
            return self._while_raised(holds, gone, at_s, delays)
        was_blind = self.data_lost or self.condition == "unknown"
        happened = [Trigger.DATA_BACK] if was_blind and not holds else []
        self._data_is_back()
        return happened + self._while_not_raised(holds, at_once, at_s, delays)

    def unknown(self, at_s: float, raised: bool) -> list[Trigger]:
        """Cannot be judged now for lack of data."""
        self.good_due_s = None
        fresh = not self.data_lost
        if fresh:
            self.data_lost, self.data_lost_s = True, at_s
        if raised:
            self.off_due_s = None
            if self.condition == "clearing":
                self.condition = "true"
        elif self.condition != "pending":
            self.condition = "unknown"
        return [Trigger.DATA_LOST] if fresh else []

    def run_due(self, what: Literal["on", "off", "good"]) -> list[Trigger]:
        """A timer has fallen due."""
        if what == "good":
            self._data_is_back()
            return [Trigger.DATA_BACK]
        if what == "on":
            self.on_due_s = None
            self.condition = "true"
            return [Trigger.RAISE]
        self.off_due_s, self.since_s = None, None
        self.condition = "false"
        return [Trigger.RECTIFY]

    def end(self) -> None:
        """The alert is done with (an event acknowledged, a rule withdrawn): nothing runs on."""
        self.condition, self.since_s = "false", None
        self.on_due_s = self.off_due_s = None
        self._data_is_back()

    def _while_raised(self, holds: bool, gone: bool, at_s: float, delays: Delays) -> list[Trigger]:
        if self.data_lost and self.good_due_s is None:
            self.good_due_s = round(at_s + GOOD_DATA_S, 3)
        if holds or not gone:
            self.condition, self.off_due_s = "true", None
        elif self.condition != "clearing" and not self.data_lost:
            self.condition = "clearing"
            self.off_due_s = round(at_s + delays.clear_s, 3)
            if self.off_due_s <= at_s:
                return self.run_due("off")
        return []

    def _while_not_raised(
        self, holds: bool, at_once: bool, at_s: float, delays: Delays
    ) -> list[Trigger]:
        if not holds:
            was_pending = self.condition == "pending"
            self.condition, self.since_s, self.on_due_s = "false", None, None
            return [Trigger.CONDITION_FALSE] if was_pending else []
        happened = []
        if self.condition != "pending":
            self.condition, self.since_s = "pending", at_s
            self.on_due_s = round(at_s + delays.confirm_s, 3)
            happened.append(Trigger.CONDITION_TRUE)
        if at_once or (self.on_due_s is not None and self.on_due_s <= at_s):
            happened += self.run_due("on")
        return happened

    def _data_is_back(self) -> None:
        self.data_lost, self.data_lost_s, self.good_due_s = False, None, None
        if self.condition == "unknown":
            self.condition = "false"
