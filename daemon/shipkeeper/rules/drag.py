"""Drag: the boat is leaving the circle that her anchor allows.

Consequence: she goes ashore or into a neighbour, in the dark, with everybody asleep.
Response: go on deck; take a bearing; start the engine; lay out more rode or weigh anchor.
Time to respond: a minute or two.

With `radius` outright this is a plain circle about the mark, for the antenna as it is
received. Otherwise the reach is reckoned from rode, depth and bow height, and the antenna's
offset from the bow is allowed for.
"""

from __future__ import annotations

import math
import re
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, ClassVar, Literal

from msgspec import field

from ..words.alert import OWN_SHIP
from ..words.geo import east_north, plane_bearing
from ..words.orders import Metres, PriorityLabel, RuleOrders, Seconds, Vessel, Watch
from ..words.verdict import NOTHING, Judgement, Verdict
from .rule import Memoryless

if TYPE_CHECKING:
    from ..picture.picture import Picture

ODDS = re.compile(r"1 in (\d+) nights?\Z")


class DragOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[drag]: at anchor, on a mooring, in a berth."""

    table: ClassVar[str] = "drag"
    many: ClassVar[bool] = False
    left_out: ClassVar[dict[str, str]] = {"deadband": "the larger of 5 m and 10 % of the limit"}

    name: str = "drag"
    priority: PriorityLabel | Literal["none"] = "alarm"
    confirm_s: Seconds = field(default=20.0, name="confirm")
    clear_s: Seconds = field(default=120.0, name="clear")
    deadband_m: Metres | None = field(default=None, name="deadband")
    watches: tuple[Watch, ...] = ("anchored", "moored", "berthed")
    false_alarms: str | None = None
    margin_m: Metres | None = field(default=None, name="margin")
    radius_m: Metres | None = field(default=None, name="radius")

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
            found.append((given[1], f"give only one of false_alarms, margin, radius; {given[0]}"))
        if self.false_alarms is not None and not ODDS.match(self.false_alarms):
            found.append(("false_alarms", 'expected odds such as "1 in 365 nights"'))
        return found

    def build(self, vessel: Vessel) -> Drag:
        return Drag(self, vessel)


class Drag(Memoryless):
    """The plain circle with dwell."""

    prompt = False

    def __init__(self, orders: DragOrders, vessel: Vessel) -> None:
        self.orders = orders
        self.vessel = vessel

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        mark = picture.watch.mark
        if mark is None:
            return NOTHING
        reading = picture.own.position.get(now_s)
        if reading is None:
            return Judgement(missing=("position",))
        limit = self._limit_m(picture)
        if limit is None:
            return Judgement(missing=("rode",))
        east, north = east_north(mark.place, reading.value)
        distance = math.hypot(east, north)
        deadband = self.orders.deadband_m
        if deadband is None:
            deadband = max(5.0, 0.1 * limit)
        return Judgement(
            (
                Verdict(
                    subject=OWN_SHIP,
                    holds=distance > limit,
                    gone=distance <= limit - deadband,
                    value=round(distance, 1),
                    limit=round(limit, 1),
                    unit="m",
                    lat=reading.value.lat,
                    lon=reading.value.lon,
                    data_at_s=reading.at_s,
                    at_once=distance > 2 * limit,
                    worse=distance > 2 * limit,
                    facts={
                        "mode": "radius" if self.orders.radius_m is not None else "rode",
                        "distance_m": distance,
                        "bearing_deg": plane_bearing(east, north),
                        "excess_m": distance - limit,
                        "reach_m": limit,
                    },
                ),
            )
        )

    def _limit_m(self, picture: Picture) -> float | None:
        if self.orders.radius_m is not None:
            return self.orders.radius_m
        mark = picture.watch.mark
        if mark is None or mark.rode_m is None:
            return None
        height = (mark.depth_m or 0.0) + mark.rise_m + (self.vessel.bow_height_m or 0.0)
        reach = math.sqrt(max(0.0, mark.rode_m**2 - height**2))
        antenna = self.vessel.antenna
        arm = antenna.from_bow_m if antenna is not None else self.vessel.length_m
        margin = self.orders.margin_m if self.orders.margin_m is not None else 27.0
        return reach + arm + margin
