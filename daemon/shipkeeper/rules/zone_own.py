"""A zone that own ship is watched by: leaving the berth, crossing a line, nearing a danger."""

from __future__ import annotations

import math
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Any

import msgspec

from ..words.alert import OWN_SHIP, Subject
from ..words.geo import east_north, plane_bearing
from ..words.verdict import Judgement, Verdict
from .sight import Sight
from .zone_members import Members
from .zone_orders import ZoneOrders
from .zone_shapes import Area, Line

if TYPE_CHECKING:
    from ..picture.picture import Picture


def judge_own(
    orders: ZoneOrders,
    members: Members,
    picture: Picture,
    area: Area,
    sight: Sight,
    open_keys: AbstractSet[str],
) -> Judgement:
    """Own hull against the area. She leaves only where she has been inside."""
    reading = picture.own.position.get(sight.now_s)
    if sight.place is None or reading is None:
        return Judgement(missing=("position",))
    if isinstance(area, Line):
        members.safe = members.safe or area.side(sight.place.lat, sight.place.lon)
        area.safe = members.safe
    outside = area.outside_m(sight.place.lat, sight.place.lon, sight.hull)
    _note(members, picture, outside == 0.0, sight.now_s)
    off, band = members.off_until_s is not None, orders.band_m
    common = _common(orders, area, sight, outside, reading.at_s)
    verdicts = []
    if orders.alarm_on != "leaving":
        holds = outside == 0.0 and (not off or OWN_SHIP.key in open_keys)
        gone = outside > 0.0 and outside >= band
        verdicts.append(_verdict(OWN_SHIP, common, "entered", holds=holds, gone=gone))
    if orders.alarm_on != "entering":
        subject = leaver(OWN_SHIP, orders)
        holds = OWN_SHIP.key in members.left and (not off or subject.key in open_keys)
        deep = band == 0.0 or area.depth_m(sight.place.lat, sight.place.lon) >= band
        gone = not holds and outside == 0.0 and deep
        verdicts.append(_verdict(subject, common, "left", holds=holds, gone=gone))
    return Judgement(tuple(verdicts))


def leaver(subject: Subject, orders: ZoneOrders) -> Subject:
    """In a zone that tells of both, coming and going are alerts of their own."""
    if orders.alarm_on != "both":
        return subject
    return msgspec.structs.replace(subject, key=f"{subject.key}:left")


def explain_own(orders: ZoneOrders, area: Area, sight: Sight) -> list[str]:
    """What the zone finds as the watch is set."""
    if sight.place is None or isinstance(area, Line):
        return []
    inside = area.outside_m(sight.place.lat, sight.place.lon, sight.hull) == 0.0
    lines = [f'zone "{orders.name}": own ship is {"inside" if inside else "outside"} now']
    if not inside and orders.alarm_on != "entering":
        lines.append("she must be inside once before her leaving can be told")
    return lines


def _note(members: Members, picture: Picture, inside: bool, now_s: float) -> None:
    key = OWN_SHIP.key
    if inside:
        members.came(key, picture.started_s)
    elif key in members.inside:
        del members.inside[key]
        members.left.add(key)
    members.judged_s = now_s


def _common(
    orders: ZoneOrders, area: Area, sight: Sight, outside: float, data_at_s: float
) -> dict[str, Any]:
    """What verdicts of both sorts say: how far beyond the edge, and where the middle lies."""
    assert sight.place is not None
    east, north = east_north(sight.place, area.centre)
    about = orders.limit_m is not None  # a ring or sector: its middle is the thing itself
    facts = {
        "name": "own ship",
        "zone": orders.name,
        "around": orders.around if about else "",
        "shape": "line" if orders.line is not None else "area",
        "range_m": round(outside, 1),
        "middle_m": round(math.hypot(east, north), 1) if about else None,
        "past_m": round(max(0.0, area.depth_m(sight.place.lat, sight.place.lon)), 1),
        "bearing_deg": round(plane_bearing(east, north), 1) if about else None,
        "assumed": sight.hull.assumed,
        "own": True,
    }
    return {
        "value": round(outside, 1), "limit": orders.limit_m, "unit": "m",
        "lat": sight.place.lat, "lon": sight.place.lon, "data_at_s": data_at_s, "facts": facts,
    }  # fmt: skip


def _verdict(
    subject: Subject, common: dict[str, Any], event: str, *, holds: bool, gone: bool
) -> Verdict:
    facts = {**common["facts"], "event": event}
    return Verdict(subject=subject, holds=holds, gone=gone, **{**common, "facts": facts})
