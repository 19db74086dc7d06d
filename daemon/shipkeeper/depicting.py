"""What was to be seen when an alert was raised, for a small picture. Part of the engine."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import msgspec

from .words.alert import AlertRecord
from .words.effects import Effect, Send
from .words.scene import Other, Place, Round, Scene

if TYPE_CHECKING:
    from .engine import Engine

SHOWN = frozenset({"drag", "zone", "proximity", "distress"})
BOW_SHARE = 0.8  # of the length from antenna to bow, where orders do not say (as the drag rule)


def depicted(engine: Engine, effects: list[Effect], now_s: float) -> list[Effect]:
    """The effects, with a scene in each message to a person that something was raised."""
    if not any(_is_to_show(effect) for effect in effects):
        return effects
    records = {record.number: record for record in engine.records()}
    return [
        msgspec.structs.replace(effect, message=_with_scene(engine, effect, records, now_s))
        if isinstance(effect, Send) and _is_to_show(effect)
        else effect
        for effect in effects
    ]


def _is_to_show(effect: Effect) -> bool:
    return isinstance(effect, Send) and effect.message.event == "raised"


def _with_scene(engine: Engine, send: Send, records: dict[int, AlertRecord], now_s: float) -> Any:
    message = send.message
    record = records.get(message.number)
    if record is None or not engine.board.desk.routes.is_person(message.outlet):
        return message
    return msgspec.structs.replace(message, scene=scene(engine, record, now_s))


def scene(engine: Engine, record: AlertRecord, now_s: float) -> Scene | None:
    """None for what has no place, or when nobody knows where the boat is."""
    picture, mark = engine.picture, engine.watch.mark
    own = picture.own_place(now_s)
    if record.kind not in SHOWN or own is None:
        return None
    target = next((t for t in picture.targets if t.key == record.subject.key), None)
    place = None if target is None else target.place_at(now_s)
    other = None
    if target is not None and place is not None:
        other = Other(
            name=record.subject.name,
            place=(place.lat, place.lon),
            course_deg=target.course_deg,
            speed_ms=target.speed_ms,
        )
    orders = next((a.rule.orders for a in engine.armed if a.rule.orders.name == record.rule), None)
    heading = picture.own.heading_deg(now_s)
    boat, at = (own.lat, own.lon), None if mark is None else (mark.lat, mark.lon)
    rounds: Iterable[Round] = ()
    outline: tuple[Place, ...] = ()
    if record.kind == "drag":
        rounds = _swing(engine, record, at)
    elif record.kind == "zone":
        rounds = _zone(orders, boat, at, heading)
        drawn = getattr(orders, "polygon", None) or getattr(orders, "line", None) or ()
        outline = tuple((lat, lon) for lat, lon in drawn)
    return Scene(
        vessel=engine.orders.vessel.name,
        boat=boat,
        length_m=engine.orders.vessel.length_m,
        heading_deg=heading,
        mark=at,
        rounds=tuple(rounds),
        outline=outline,
        other=other,
    )


def _swing(engine: Engine, record: AlertRecord, mark: Place | None) -> list[Round]:
    """How far she can lie from her anchor, and the edge beyond which it calls, of the antenna."""
    facts, vessel = record.facts, engine.orders.vessel
    reach_m = facts.get("reach_m")
    if mark is None or not isinstance(reach_m, float):
        return []
    if facts.get("mode") == "radius":
        return [Round(what="alarm", centre=mark, radius_m=reach_m)]
    lat, lon = facts.get("anchor_lat"), facts.get("anchor_lon")
    centre = (lat, lon) if isinstance(lat, float) and isinstance(lon, float) else mark
    antenna = vessel.antenna
    reach_m += antenna.from_bow_m if antenna is not None else BOW_SHARE * vessel.length_m
    found = [Round(what="reach", centre=centre, radius_m=reach_m)]
    if record.limit is not None:
        found.append(Round(what="alarm", centre=centre, radius_m=reach_m + record.limit))
    return found


def _zone(orders: Any, boat: Place, mark: Place | None, heading_deg: float | None) -> list[Round]:
    """Its ring or sector as it lay; without what it needs, nothing."""
    around = getattr(orders, "around", "ship")
    centre = boat if around == "ship" else mark if around == "anchor" else tuple(around)
    ring, sector = getattr(orders, "ring", None), getattr(orders, "sector", None)
    shape = ring or sector
    if shape is None or centre is None:
        return []
    left = right = None
    if sector is not None and ring is None:
        turn = heading_deg if sector.bearings == "relative" else 0.0
        if turn is None:
            return []
        left, right = (sector.left + turn) % 360.0, (sector.right + turn) % 360.0
    return [
        Round(what="zone", centre=centre, radius_m=radius_m, left_deg=left, right_deg=right)
        for radius_m in (shape.from_m, shape.to_m)
        if radius_m > 0.0
    ]
