"""Drag: the boat lies where no anchor that holds could let her lie.

Consequence: she goes ashore or into a neighbour, in the dark, with everybody asleep.
Response: go on deck; take a bearing; start the engine; lay out more rode or weigh anchor.
Time to respond: a minute or two.

`radius` outright is a plain circle about the mark (drag_circle.py). Otherwise it is reckoned how
far she lies beyond the reach of the rode from every place where the anchor may be
(drag_reckoned.py, anchoring/), and the limit is chosen by odds (drag_odds.py) or given as `margin`.
"""

from __future__ import annotations

import re
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, ClassVar, Literal

from msgspec import field

from ..words.orders import Metres, PriorityLabel, RuleOrders, Seconds, Vessel, Watch
from ..words.verdict import NOTHING, Judgement
from .anchoring.excess import DWELL_S
from .drag_circle import judge_circle
from .drag_reckoned import Limits, Reckoned

if TYPE_CHECKING:
    from ..picture.picture import Picture

ODDS = re.compile(r"1 in ([1-9]\d{0,4}) nights?\Z")
USUAL_NIGHTS = 365.0
EARLY_NIGHTS = 30.0


class DragOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[drag]: at anchor, on a mooring, in a berth."""

    table: ClassVar[str] = "drag"
    many: ClassVar[bool] = False
    left_out: ClassVar[dict[str, str]] = {
        "deadband": "the larger of 5 m and 10 % of the limit",
        "false_alarms": '"1 in 365 nights", unless margin or radius is given',
    }

    name: str = "drag"
    priority: PriorityLabel | Literal["none"] = "alarm"
    confirm_s: Seconds = field(default=20.0, name="confirm")
    clear_s: Seconds = field(default=120.0, name="clear")
    deadband_m: Metres | None = field(default=None, name="deadband")
    watches: tuple[Watch, ...] = ("anchored", "moored", "berthed")
    false_alarms: str | None = None
    margin_m: Metres | None = field(default=None, name="margin")
    radius_m: Metres | None = field(default=None, name="radius")
    early: Literal["warning", "caution", "none"] = "caution"
    consequence: str = "she goes ashore, or into another boat"
    response: str = "go on deck: is she moving? Engine ready; more rode, or weigh anchor"

    def problems(self) -> list[tuple[str, str]]:
        given = [
            key
            for key, value in (
                ("false_alarms", self.false_alarms),
                ("margin", self.margin_m),
                ("radius", self.radius_m),
            )
            if value is not None
        ]
        found = []
        if len(given) > 1:
            text = f"give only one of false_alarms, margin, radius; {given[0]} is given"
            found.append((given[1], text))
        if self.false_alarms is not None and not ODDS.match(self.false_alarms):
            found.append(("false_alarms", 'expected odds such as "1 in 365 nights"'))
        return found

    def explain(self) -> list[str]:
        if self.radius_m is not None:
            return [f"outside a circle of {self.radius_m:g} m about the mark, by the antenna"]
        places = "the reach of the rode, from every place where the anchor may be"
        if self.margin_m is not None:
            how = f"the bow lies {self.margin_m:g} m beyond {places}"
        else:
            how = f"the bow lies farther beyond {places}, than a boat that holds comes {self.odds}"
        lines = [
            how,
            "the reach is reckoned from rode, depth and wind; what is not sent widens it",
            f"looked at over {self.held_s:g} s, less when she makes way outwards"
            + (", whatever confirm says" if self.confirm_s < self.held_s else ""),
        ]
        if self.early != "none":
            lines.append(f"a {self.early} comes nearer than that, and oftener for nothing")
        return lines

    @property
    def held_s(self) -> float:
        """Reckoned: never shorter than what the odds were made with (drag_odds.py)."""
        return self.confirm_s if self.radius_m is not None else max(DWELL_S, self.confirm_s)

    @property
    def nights(self) -> float:
        """Nights for one false alarm, as the orders want it."""
        match = ODDS.match(self.false_alarms or "")
        return float(match[1]) if match else USUAL_NIGHTS

    @property
    def odds(self) -> str:
        return f"once in {self.nights:.0f} nights"

    def build(self, vessel: Vessel) -> Drag:
        return Drag(self, vessel)


class Drag:
    """Circle or reckoning, by the orders."""

    prompt = False

    def __init__(self, orders: DragOrders, vessel: Vessel) -> None:
        self.orders = orders
        self.vessel = vessel
        limits = Limits(
            margin_m=orders.margin_m,
            nights=orders.nights,
            early_nights=min(EARLY_NIGHTS, orders.nights),
            priority=orders.priority,
            early=orders.early,
            odds=orders.odds if orders.margin_m is None else "",
            dwell_s=orders.held_s,
        )
        self._reckoned = Reckoned(limits, vessel)

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        if picture.watch.mark is None:
            return NOTHING
        if self.orders.radius_m is not None:
            return judge_circle(picture, now_s, self.orders.radius_m, self.orders.deadband_m)
        return self._reckoned.judge(picture, now_s)

    def explain_watch(self, picture: Picture, now_s: float) -> list[str]:
        """The swing circle and how it was reckoned, for the answer to `anchor`."""
        if self.orders.radius_m is not None:
            return [f"drag: a circle of {self.orders.radius_m:g} m about the mark, by the antenna"]
        return self._reckoned.explain(picture, now_s)

    def watch_set(self, picture: Picture, now_s: float) -> None:
        """Nothing to do: a new mark shows by itself."""

    def weighty(self) -> object:
        return self._reckoned.weighty()

    def remember(self) -> bytes | None:
        return self._reckoned.remember()

    def recall(self, state: bytes, now_s: float) -> None:
        self._reckoned.recall(state)
