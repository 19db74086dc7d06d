"""Answers to questions: status, alerts, targets, measure. Read-only; part of the engine.

Each returns (code, text, data): data for machines, the text is made from it by the command
line. Code 1 says that alerts stand or something cannot be watched.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import msgspec

from .rules.feed_faults import fault_of
from .words.alert import AlertRecord, State
from .words.drill import WIRE
from .words.events import Command
from .words.geo import LatLon, range_bearing

if TYPE_CHECKING:
    from .engine import Engine

Answer = tuple[int, str, dict[str, Any]]
# Targets in a form that nobody here can read must not look like an empty sea.
UNREAD = "RADAR TARGETS NOT READ: it sends TTD only; have it send TTM"


def status(engine: Engine, command: Command) -> Answer:
    now_s = command.at_s
    picture = engine.picture
    watch = picture.watch
    standing = [a for a in engine.armed if watch.watch in a.rule.orders.watches]
    alerts = _standing_alerts(engine)
    data: dict[str, Any] = {
        "at": engine.label(now_s),
        "time_quality": picture.time.quality,
        "vessel": engine.orders.vessel.name,
        "watch": watch.watch,
        "crew": watch.crew,
        "since": engine.label(watch.since_s),
        "has_watch": _has_watch(engine),
        "out_of_service": engine.board.out_of_service(),
        "mark": msgspec.to_builtins(watch.mark),
        "own": own_ship(engine, now_s),
        "inputs": [
            _input(engine, health, now_s)
            for health in picture.inputs.by_name.values()
            if health.name != WIRE
        ],
        "rules": [
            {
                "name": a.rule.orders.name,
                "kind": a.rule.orders.table,
                "standing": a in standing,
                "lacks": list(picture.blind.get(a.rule.orders.name, ())),
                "off_until": _off_until(engine, a.rule),
                "filters": _filters(engine, a.rule),
            }
            for a in engine.armed
        ],
        "targets": len(picture.targets),
        "targets_lost": sum(target.lost for target in picture.targets),
        "targets_shed": picture.targets.shed_count,
        "target_room": picture.targets.capacity,
        "outlets": engine.board.outlet_states(),
        "alerts": [_alert_row(engine, record) for record in alerts],
    }
    blind = [r["name"] for r in data["rules"] if r["standing"] and r["lacks"]]
    return (1 if alerts or blind else 0), "", data


def _has_watch(engine: Engine) -> dict[str, Any] | None:
    """Who has the watch, and until when; None when nobody has said so."""
    who, until_s = engine.board.has_watch()
    if not who:
        return None
    return {"who": who, "until": None if until_s is None else engine.label(until_s)}


def alerts(engine: Engine, command: Command) -> Answer:
    wanted = command.args.get("id")
    if wanted:
        record = engine.board.find(str(wanted))
        if isinstance(record, str):
            return 2, record, {}
        times = {
            name: engine.label(value)
            for name in record.__struct_fields__
            if name.endswith("_s") and name != "stage_s"
            and isinstance(value := getattr(record, name), float)
        }  # fmt: skip
        names = {"priority": record.priority.label, "base_priority": record.base_priority.label}
        return 0, record.text, {**msgspec.to_builtins(record), "times": times, "labels": names}
    rows = [_alert_row(engine, record) for record in _standing_alerts(engine)]
    return (1 if rows else 0), "", {"alerts": rows}


def targets(engine: Engine, command: Command) -> Answer:
    from .rules.table import target_table

    rules = [a.rule for a in engine.armed]
    return 0, "", {"targets": target_table(engine.picture, rules, command.at_s)}


def measure(engine: Engine, command: Command) -> Answer:
    """Range and bearing between two of: own ship, anchor, a target, a position."""
    ends = []
    for key in ("from", "to"):
        place = _place(engine, str(command.args.get(key, "")), command.at_s)
        if isinstance(place, str):
            return 2, place, {}
        ends.append(place)
    distance, bearing = range_bearing(*ends)
    _, back = range_bearing(ends[1], ends[0])
    text = f"{distance:.1f} m ({distance / 1852:.3f} NM), bearing {bearing:05.1f} true"
    return 0, text, {"range_m": distance, "bearing_deg": bearing, "back_deg": back}


QUESTIONS: dict[str, Callable[[Engine, Command], Answer]] = {
    "status": status,
    "alerts": alerts,
    "targets": targets,
    "measure": measure,
}


def own_ship(engine: Engine, now_s: float) -> dict[str, Any]:
    """Own ship as known now: every value with its source and age, None where unknown."""
    own = engine.picture.own
    position, last = own.position.get(now_s), own.position.last()
    velocity, depth = own.velocity.get(now_s), own.depth.get(now_s)
    quality = own.quality.get(now_s)
    wind = own.wind_over_ground(now_s, engine.watch.at_rest)
    return {
        "lat": position.value.lat if position else None,
        "lon": position.value.lon if position else None,
        "position_source": position.source if position else None,
        "position_age_s": round(now_s - last.at_s, 1) if last else None,
        "last_lat": last.value.lat if last else None,
        "last_lon": last.value.lon if last else None,
        "hdop": quality.value.hdop if quality else None,
        "speed_ms": velocity.value.speed_ms if velocity else None,
        "course_deg": velocity.value.course_deg if velocity else None,
        "heading_deg": own.heading_deg(now_s),
        "depth_below_transducer_m": depth.value.below_transducer_m if depth else None,
        "wind_ms": wind[0] if wind else None,
        "wind_from_deg": wind[1] if wind else None,
    }


def _filters(engine: Engine, rule: object) -> list[str]:
    """What keeps the rule from raising, in words."""
    until = _off_until(engine, rule)
    off = [] if until is None else [f"SWITCHED OFF until {until}: {getattr(rule, 'off_why', '')}"]
    return [*off, *getattr(rule, "filters_in_force", list)()]


def _off_until(engine: Engine, rule: object) -> str | None:
    """Until when a person has switched the rule off; None when it is on."""
    until_s = getattr(rule, "off_until_s", None)
    return None if until_s is None else engine.label(until_s)


def _input(engine: Engine, health: Any, now_s: float) -> dict[str, Any]:
    rate, lines = health.error_rate(now_s)
    fault = fault_of(engine.picture, health, now_s, _indicate_s(engine))
    return {
        "name": health.name,
        "up": health.up,
        "why": health.down_why,
        "fault": None if fault is None else fault.what,
        "last_line_age_s": None
        if health.last_line_s is None
        else round(now_s - health.last_line_s, 1),
        "good": health.good,
        "unused": health.unused,
        "bad": health.bad,
        "last_bad": health.last_bad_why,
        "error_share": round(rate, 3),
        "lines_last_minute": lines,
        "brings": sorted(health.last_what),
        "expect": list(engine.picture.inputs.expected.get(health.name, ())),
        "unread": UNREAD if "TTD" in health.kinds and "TTM" not in health.kinds else "",
    }


def _indicate_s(engine: Engine) -> float:
    """After how long a silence is shown: as the feed orders have it."""
    tables = (rule for rule in engine.orders.rules if rule.table == "feed")
    return float(getattr(next(tables, None), "indicate_after_s", 10.0))


def _standing_alerts(engine: Engine) -> list[AlertRecord]:
    """Most urgent first, then the newest."""
    shown = [r for r in engine.records() if r.state is not State.NORMAL]
    return sorted(shown, key=lambda r: (-r.priority, -(r.raised_s or 0.0), r.id))


def _alert_row(engine: Engine, record: AlertRecord) -> dict[str, Any]:
    return {
        "id": record.id,
        "number": record.number,
        "occurrence": record.occurrence,
        "priority": record.priority.label,
        "state": str(record.state),
        "raised": None if record.raised_s is None else engine.label(record.raised_s),
        "title": record.title,
        "text": record.text,
        "data_lost": record.data_lost,
        "drill": record.drill,
        "acknowledged_by": record.acknowledged_by,
    }


def _place(engine: Engine, text: str, now_s: float) -> LatLon | str:
    if text in ("own", "own ship", "ship", ""):
        place = engine.picture.own_place(now_s)
        return place if place is not None else "no position of own ship now"
    if text == "anchor":
        mark = engine.watch.mark
        return mark.place if mark is not None else "no anchor mark is set"
    if "," in text:
        try:
            lat, lon = (float(part) for part in text.split(","))
        except ValueError:
            return f'"{text}" is no position; write LAT,LON in degrees'
        if abs(lat) > 90 or abs(lon) > 180:
            return f'"{text}" is no position on earth'
        return LatLon(lat, lon)
    folded = text.casefold()
    for target in engine.picture.targets:
        names = (target.key, target.label.casefold(), str(target.mmsi or ""))
        if folded in names:
            place = target.place_at(now_s)
            return place if place is not None else f"{target.label} has given no position"
    return f'nothing is known by "{text}": own, anchor, LAT,LON, a name or an MMSI'
