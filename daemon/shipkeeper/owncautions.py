"""What the engine says of the watch itself: no watch set, many targets, a wrong date, a gap
learnt of late.

Part of the engine, called by it alone: no rule of the orders stands behind these.
"""

from __future__ import annotations

from .alerts.board import Board
from .picture.capacity import is_crowded
from .picture.picture import Picture
from .picture.stillness import MINUTES, Stillness

LATE_CLOCK_S = 30.0  # the computer's clock was out by more when the watch began
REMIND_EVERY_S = 10
# The slowest ships at anchor report each three minutes (ITU-R M.1371): by twice that a picture
# that began empty holds whoever is there.
FILLED_S = 360.0
DATE = "date-"  # the caution about the date of an input, before its name


class OwnCautions:
    """Looks each grid second, and tells the board only what has changed; what stands, also from an
    earlier run, the board knows."""

    def __init__(self, picture: Picture, board: Board) -> None:
        self._picture, self._board = picture, board
        self._stillness = Stillness()
        self._last_alive_s: float | None = None  # of the run before, until the gap is known
        self._started_s = 0.0
        self._filled_s = 0.0  # up to then an earlier run knew more targets than we do

    def restored(self, last_alive_s: float | None, started_s: float) -> None:
        """The engine took up what an earlier run left, and the board its alerts."""
        self._last_alive_s, self._started_s = last_alive_s, started_s
        self._filled_s = started_s + FILLED_S
        for part in self._board.parts():
            name = part.removeprefix(DATE)
            if name != part and name not in self._picture.inputs.by_name:
                self._board.tell(part, False, started_s)  # that input is no longer in the orders

    def woke(self) -> None:
        """Nobody watched for a while: how she lay meanwhile is not known."""
        self._stillness.start()

    def tick(self, now_s: float) -> None:
        """One grid second."""
        self._look_at_targets(now_s)
        self._look_at_watch(now_s)
        self._look_at_dates(now_s)

    def look_at_gap(self, now_s: float) -> bool:
        """A computer without a battery clock learns the time after its start: the gap was longer
        (or there was one) than it could know then. True when it was learnt now."""
        time = self._picture.time
        if self._last_alive_s is None or time.quality not in ("synchronised", "gnss"):
            return False
        last_alive_s, self._last_alive_s = self._last_alive_s, None
        late_s = time.utc_s(self._started_s) - self._started_s
        gap_s = round(self._started_s + late_s - last_alive_s, 3)
        if abs(late_s) > LATE_CLOCK_S and gap_s > 0:
            self._board.gap(now_s, gap_s, ends_s=self._started_s)
        return True

    def _look_at_watch(self, now_s: float) -> None:
        """No watch is set, and she lies as at anchor: a caution, until one is set."""
        picture, was = self._picture, self._board.says("no-watch")
        reminded: bool | None = was
        if picture.watch.watch != "off":
            self._stillness.start()
            reminded = False
        else:
            self._stillness.take(picture.own_place(now_s), picture.own.heading_deg(now_s), now_s)
            if now_s % REMIND_EVERY_S == 0:
                reminded = self._stillness.as_at_anchor(now_s)
        if reminded is not None and reminded != was:
            facts = {"what": "no watch", "minutes": MINUTES}
            self._board.tell("no-watch", reminded, now_s, facts=facts)

    def _look_at_dates(self, now_s: float) -> None:
        """A receiver whose date is wrong labels nothing; its position is as good as ever."""
        for name, health in self._picture.inputs.by_name.items():
            date = health.date
            if date.is_astray is None or date.is_astray == self._board.says(f"{DATE}{name}"):
                continue
            facts = {"what": "date", "input": name, "told": date.told, "ahead_s": date.ahead_s}
            self._board.tell(f"{DATE}{name}", date.is_astray, now_s, facts=facts)

    def _look_at_targets(self, now_s: float) -> None:
        """A full picture is a caution."""
        targets = self._picture.targets
        was = self._board.says("targets")
        crowded = is_crowded(targets.load, was)
        if crowded != was and (crowded or now_s >= self._filled_s):
            facts = {"what": "crowd", "count": len(targets), "room": targets.capacity}
            self._board.tell("targets", crowded, now_s, facts=facts)
