"""The plain circle of `[drag] radius`: the antenna as received, farther from the mark than that."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ..words.alert import OWN_SHIP
from ..words.geo import east_north, plane_bearing
from ..words.verdict import NOTHING, Judgement, Verdict

if TYPE_CHECKING:
    from ..picture.picture import Picture


def judge_circle(
    picture: Picture, now_s: float, radius_m: float, deadband_m: float | None
) -> Judgement:
    """Outside by any amount holds; twice as far needs no confirming."""
    mark = picture.watch.mark
    if mark is None:
        return NOTHING
    reading = picture.own.position.get(now_s)
    if reading is None:
        return Judgement(missing=("position",))
    east, north = east_north(mark.place, reading.value)
    distance = math.hypot(east, north)
    deadband = deadband_m if deadband_m is not None else max(5.0, 0.1 * radius_m)
    verdict = Verdict(
        subject=OWN_SHIP,
        holds=distance > radius_m,
        gone=distance <= radius_m - deadband,
        value=round(distance, 1),
        limit=round(radius_m, 1),
        unit="m",
        lat=reading.value.lat,
        lon=reading.value.lon,
        data_at_s=reading.at_s,
        at_once=distance > 2 * radius_m,
        worse=distance > 2 * radius_m,
        facts={
            "mode": "radius",
            "distance_m": distance,
            "bearing_deg": plane_bearing(east, north),
            "excess_m": distance - radius_m,
            "reach_m": radius_m,
        },
    )
    return Judgement((verdict,))
