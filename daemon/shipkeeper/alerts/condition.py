"""The condition of one instance: verdicts in, with on-delay, off-delay and deadband.

The on-delay (`confirm`) runs from the moment the condition became true; lost data does not
stop it, for a boat may drag while the receiver is dark. The off-delay (`clear`) runs only on
good data that says 'gone': an active alert never clears by lack of data, nor inside the
deadband. Data that was lost counts as back after 30 s of good verdicts.
"""

from __future__ import annotations

from enum import Enum

from ..words.alert import AlertRecord
from ..words.verdict import Verdict

GOOD_AGAIN_S = 30.0


class Due(Enum):
    """What a condition's timer means when it fires."""

    NOTHING = 0
    RAISE = 1
    CLEAR = 2


class Condition:
    """Question 1 of states.py, for one record. Keeps its answer in `record.condition`."""

    __slots__ = ("_good_since_s", "due_s", "record")

    def __init__(self, record: AlertRecord) -> None:
        self.record = record
        self.due_s: float | None = None
        self._good_since_s: float | None = None

    def judge(self, verdict: Verdict, confirm_s: float, clear_s: float, at_s: float) -> None:
        """Take one verdict in; sets `due_s` when a delay begins to run."""
        if verdict.holds is None:
            self.blind()
            return
        self._sight(at_s)
        record = self.record
        if verdict.holds:
            if record.condition in ("false", "unknown"):
                record.condition = "pending"
                record.since_s = at_s
                self.due_s = at_s if verdict.at_once else round(at_s + confirm_s, 3)
            elif record.condition == "clearing":
                record.condition = "true"
                self.due_s = None
            if record.condition == "pending" and verdict.at_once:
                self.due_s = at_s
            return
        if record.condition == "unknown":
            record.condition = "false"
        elif record.condition == "pending":
            record.condition, record.since_s, self.due_s = "false", None, None
        elif record.condition == "true" and verdict.is_gone:
            record.condition = "clearing"
            self.due_s = round(at_s + clear_s, 3)
        elif record.condition == "clearing" and not verdict.is_gone:
            record.condition = "true"
            self.due_s = None

    def blind(self) -> None:
        """The subject cannot be judged."""
        record = self.record
        self._good_since_s = None
        if record.condition == "false":
            record.condition = "unknown"
            return
        if record.condition == "unknown":
            return
        record.data_lost = True
        if record.condition == "clearing":
            record.condition = "true"
            self.due_s = None

    def fire(self, at_s: float) -> Due:
        """The delay that was running is over."""
        if self.due_s is None or at_s < self.due_s:
            return Due.NOTHING
        self.due_s = None
        if self.record.condition == "pending":
            self.record.condition = "true"
            return Due.RAISE
        if self.record.condition == "clearing":
            self.record.condition = "false"
            self.record.since_s = None
            return Due.CLEAR
        return Due.NOTHING

    def _sight(self, at_s: float) -> None:
        if not self.record.data_lost:
            return
        if self._good_since_s is None:
            self._good_since_s = at_s
        elif at_s - self._good_since_s >= GOOD_AGAIN_S:
            self.record.data_lost = False
            self._good_since_s = None
