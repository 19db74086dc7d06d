"""Zone: guarded water about the ship, the anchor or a place; who comes in, who leaves.

Consequence: something is near that was not there: a boat dragging down, one anchoring too
close, a thief's tender; or own ship is where she should not be.
Response: look out; find the light or the shape by the bearing told.
Time to respond: a minute or more.

This file has what every zone has: its shape, its memory, the switch. Who is judged is in
zone_targets.py (ships) and zone_own.py (own ship).
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING

import msgspec

from ..picture.targets import Target
from ..words.orders import Vessel
from ..words.verdict import Judgement
from .sight import deaf, look, unplaced
from .zone_area import Layout
from .zone_members import Members
from .zone_orders import ZoneOrders
from .zone_own import explain_own, judge_own
from .zone_targets import Moment, Watcher

if TYPE_CHECKING:
    from ..picture.picture import Picture

__all__ = ["Zone", "ZoneOrders"]

# A boat at anchor reports every three minutes; one of two such reports may be lost.
LISTEN_S = 360.0


class Zone:
    """See the module's first lines."""

    prompt = False

    def __init__(self, orders: ZoneOrders, vessel: Vessel) -> None:
        self.orders = orders
        self.vessel = vessel
        self.members = Members()
        self._utc_s: float | None = None  # of the last judgement
        self._layout = Layout(orders)
        self._watcher = Watcher(orders, self.members)

    # -- the contract ----------------------------------------------------------------------

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        self.members.is_off(now_s)  # it may be over
        sight = look(picture, self.vessel, now_s, self.orders.measure)
        self._utc_s = sight.utc_s
        area = self._layout.lay(picture, sight)
        if isinstance(area, str):
            return Judgement(missing=(area,))
        if self.orders.subject == "own ship":
            return judge_own(self.orders, self.members, picture, area, sight, open_keys)
        missing = deaf(picture, now_s)
        if missing:
            return Judgement(missing=missing)
        judged = self._watcher.judge(Moment(picture, area, sight, open_keys))
        lacks = unplaced(picture, self.orders.ignore.kinds, now_s)
        return msgspec.structs.replace(judged, missing=lacks) if lacks else judged

    def watch_set(self, picture: Picture, now_s: float) -> None:
        self.members.clear()
        if self.orders.accept_present:
            self.members.settle = True
            self.members.settle_until_s = max(now_s, picture.started_s + LISTEN_S)

    def remember(self) -> bytes | None:
        return self.members.encode()

    def recall(self, state: bytes, now_s: float) -> None:
        self.members.decode(state, now_s)

    # -- beyond the contract: what engine, commands and tables ask -------------------------

    @property
    def off_until_s(self) -> float | None:
        """Until when a person has switched it off; None while it is on."""
        return self.members.off_until_s

    @property
    def off_why(self) -> str:
        return self.members.off_why

    def switch(self, on: bool, until_s: float | None, why: str = "") -> None:
        """Off until a time (nothing new is raised, what stands may clear), or on again."""
        self.members.off_until_s = None if on else until_s
        self.members.off_why = "" if on else why

    def weighty(self) -> tuple[object, ...]:
        """Changes with every part of its memory that should be kept at once."""
        known = self.members.weighty()
        if self.orders.alarm_on == "entering":
            return known
        return (*known, None, *sorted(self.members.inside))  # or nobody could be missed

    def filters_in_force(self) -> list[str]:
        if self.orders.subject == "own ship":
            return []
        told = [f"leaves out {text}" for text in self.orders.ignore.told(self._utc_s)]
        if self.members.neighbours:
            told.append(f"{len(self.members.neighbours)} neighbour(s) not raised")
        if not self.orders.lost_after:
            told.append("lost-target function off")
        return told

    def explain_watch(self, picture: Picture, now_s: float) -> list[str]:
        """What this zone finds as the watch is set."""
        sight = look(picture, self.vessel, now_s, self.orders.measure)
        area = self._layout.lay(picture, sight)
        if isinstance(area, str):
            return []
        if self.orders.subject == "own ship":
            return explain_own(self.orders, area, sight)
        if not self.orders.accept_present:
            return []
        found = self._watcher.inside(Moment(picture, area, sight, frozenset()))
        names = sorted(row[0].label for row in found.values())
        return [f'zone "{self.orders.name}": neighbours {", ".join(names) or "none"}']

    def contains(self, key: str) -> bool:
        """Whether the target was inside at the last judgement."""
        return key in self.members.inside

    def left_out(self, target: Target, away_m: float | None, now_s: float, utc_s: float) -> str:
        """Why this rule would not raise the target, '' when it would."""
        if self.orders.subject == "own ship":
            return ""
        if target.key in self.members.neighbours:
            return "neighbour"
        return self.orders.ignore.why_not(target, away_m, now_s, utc_s)
