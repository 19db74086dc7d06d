"""Setting the watch: anchor, moor, berth, underway, off, crew; part of the engine.

Each command changes the watch as state, journals it, and answers with what it did in words
that can be checked by a look over the side. A change of watch never disarms silently: the
board names the alerts it takes with it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import msgspec

from . import drilling
from .picture.picture import Picture
from .picture.watch import AnchorMark, WatchSet
from .words.drill import BEGINS, IS_OVER
from .words.events import Command
from .words.geo import LatLon, east_north, format_position, offset, plane_bearing

if TYPE_CHECKING:
    from .engine import Engine

Answer = tuple[int, str, dict[str, Any]]
REFUSED = 2


def anchor(engine: Engine, command: Command) -> Answer:
    """anchor here | at | veer | move."""
    how = command.args.get("how")
    if how == "veer":
        return _veer(engine, command)
    place = _place_of(engine, command, how)
    if isinstance(place, str):
        return REFUSED, place, {}
    old = engine.watch.mark
    args = command.args
    keep = old if how == "move" else None
    mark = AnchorMark(
        lat=place.lat,
        lon=place.lon,
        set_at_s=command.at_s if keep is None else keep.set_at_s,
        how="at" if how in ("at", "move") else "here",
        rode_m=_number(args, "rode_m", keep.rode_m if keep else None),
        depth_m=_number(
            args, "depth_m", keep.depth_m if keep else engine.picture.water_m(command.at_s)
        ),
        rise_m=_number(args, "rise_m", keep.rise_m if keep else 0.0) or 0.0,
        heading_deg=engine.picture.own.heading_deg(command.at_s),
        revision=(old.revision + 1) if old else 1,
    )
    if how == "move" and engine.watch.watch not in ("anchored", "moored", "berthed"):
        return REFUSED, "no anchor watch is set; use: anchor here, or anchor at LAT,LON", {}
    watch = "anchored" if how != "move" else engine.watch.watch
    _set(engine, command, watch, mark)
    return _answer(engine, command, f"{watch}: mark {format_position(mark.lat, mark.lon)}")


def moor(engine: Engine, command: Command) -> Answer:
    return _tie_up(engine, command, "moored")


def berth(engine: Engine, command: Command) -> Answer:
    return _tie_up(engine, command, "berthed")


def underway(engine: Engine, command: Command) -> Answer:
    _set(engine, command, "underway", None)
    return _answer(engine, command, "underway")


def off(engine: Engine, command: Command) -> Answer:
    standing = [r for r in engine.records() if r.condition in ("true", "clearing")]
    _set(engine, command, "off", None)
    text = "watch off: nothing is watched but what has its own watches"
    if standing:
        text += f"; {len(standing)} alert(s) stood: " + ", ".join(r.id for r in standing)
    return 0, text, {"watch": "off", "stood": [r.id for r in standing]}


def crew(engine: Engine, command: Command) -> Answer:
    where = command.args.get("where")
    if where not in ("aboard", "ashore"):
        return REFUSED, "crew is aboard or ashore", {}
    engine.picture.watch = msgspec.structs.replace(engine.watch, crew=where)
    engine.board.set_watch(engine.watch.watch, where, command.at_s)
    engine.remember_watch()
    engine.note("crew", f"crew {where}", who=command.who)
    return 0, f"crew {where}", {"crew": where}


def zone(engine: Engine, command: Command) -> Answer:
    """Switch a zone off for a time, or on again; it comes back by itself."""
    name, on = str(command.args.get("name", "")), bool(command.args.get("on"))
    for armed in engine.armed:
        switch = getattr(armed.rule, "switch", None)
        if switch is None or armed.rule.orders.name != name:
            continue
        for_s, why = command.args.get("for_s"), str(command.args.get("why", ""))
        if on:
            switch(True, None)
            return 0, f'zone "{name}" on', {"zone": name, "on": True}
        if not isinstance(for_s, int | float) or not 0 < for_s <= 12 * 3600:
            return REFUSED, "a zone is switched off for a time: --for, at most 12 h", {}
        if not why:
            return REFUSED, "a zone is switched off for a reason: --why TEXT", {}
        switch(False, command.at_s + for_s, why)
        until = engine.label(command.at_s + for_s)
        return 0, f'zone "{name}" off until {until}', {"zone": name, "on": False, "until": until}
    names = [a.rule.orders.name for a in engine.armed if hasattr(a.rule, "switch")]
    return REFUSED, f'no zone "{name}"; there are: {", ".join(names) or "none"}', {}


def here(engine: Engine, command: Command) -> Answer:
    """Whoever has the watch is there: one action answers all that the presence rule asked."""
    if command.where != "aboard":
        return REFUSED, "only who is aboard can answer for the watch", {}
    asked = [a.rule.orders for a in engine.armed if a.rule.orders.table == "presence"]
    if not asked:
        return REFUSED, "the orders have no [presence]: nobody asks", {}
    for record in engine.records():
        if record.kind == "presence":
            engine.board.command(
                msgspec.structs.replace(command, verb="ack", args={"id": record.id})
            )
    every_s = min(getattr(orders, "every_s", 0.0) for orders in asked)
    stands = any(engine.watch.watch in orders.watches for orders in asked)
    when = f"; asked again at {engine.label(command.at_s + every_s)[11:19]} UTC" if stands else ""
    return 0, f"the watch is kept{when}", {"next_s": every_s if stands else None}


COMMANDS: dict[str, Callable[[Engine, Command], Answer]] = {
    "anchor": anchor,
    "moor": moor,
    "berth": berth,
    "underway": underway,
    "off": off,
    "crew": crew,
    "here": here,
    "zone": zone,
    BEGINS: drilling.begin,
    IS_OVER: drilling.end,
}


def restore_watch(picture: Picture, kept: bytes | None) -> None:
    """The watch of an earlier run; unreadable state leaves the watch off, never half set."""
    if kept is None:
        return
    try:
        picture.watch = msgspec.json.decode(kept, type=WatchSet)
    except ValueError:  # msgspec's own errors, and text that is not UTF-8
        return


def _veer(engine: Engine, command: Command) -> Answer:
    mark = engine.watch.mark
    rode = _number(command.args, "rode_m", None)
    if mark is None:
        return REFUSED, "no anchor watch is set; use: anchor here, or anchor at LAT,LON", {}
    if rode is None:
        return REFUSED, "how much rode is out now? --rode, for example --rode '40 m'", {}
    depth = _number(command.args, "depth_m", mark.depth_m)
    rise = _number(command.args, "rise_m", mark.rise_m) or 0.0
    mark = msgspec.structs.replace(
        mark, rode_m=rode, depth_m=depth, rise_m=rise, revision=mark.revision + 1
    )
    engine.picture.watch = msgspec.structs.replace(engine.watch, mark=mark)
    engine.remember_watch()
    engine.note("watch", f"rode veered to {rode:g} m", who=command.who)
    return _answer(engine, command, f"rode {rode:g} m")


def _tie_up(engine: Engine, command: Command, watch: str) -> Answer:
    place = _place_of(engine, command, command.args.get("how", "here"))
    if isinstance(place, str):
        return REFUSED, place, {}
    old = engine.watch.mark
    mark = AnchorMark(
        lat=place.lat,
        lon=place.lon,
        set_at_s=command.at_s,
        how=str(command.args.get("how", "here")),
        rode_m=_number(command.args, "rode_m", None),
        depth_m=_number(command.args, "depth_m", engine.picture.water_m(command.at_s)),
        rise_m=_number(command.args, "rise_m", 0.0) or 0.0,
        heading_deg=engine.picture.own.heading_deg(command.at_s),
        revision=(old.revision + 1) if old else 1,
    )
    _set(engine, command, watch, mark)
    return _answer(engine, command, f"{watch}: mark {format_position(mark.lat, mark.lon)}")


def _set(engine: Engine, command: Command, watch: str, mark: AnchorMark | None) -> None:
    before = engine.watch
    engine.picture.watch = WatchSet(
        watch=watch,
        crew=before.crew,
        since_s=command.at_s,
        mark=mark,
        has_watch=before.has_watch,
        has_watch_until_s=before.has_watch_until_s,
    )
    for armed in engine.armed:
        armed.was_standing = False  # the next grid second tells every rule that a watch was set
    engine.board.set_watch(watch, before.crew, command.at_s)
    engine.remember_watch()
    engine.note("watch", f"{before.watch} -> {watch}", who=command.who, watch=watch)


def _place_of(engine: Engine, command: Command, how: object) -> LatLon | str:
    """The mark's place, or why there is none."""
    if how in ("at", "move") and "lat" in command.args:
        lat, lon = command.args.get("lat"), command.args.get("lon")
        if not isinstance(lat, int | float) or not isinstance(lon, int | float):
            return "a position is LAT,LON in degrees, for example 57.1000,-5.2000"
        if not (abs(lat) <= 90 and abs(lon) <= 180):
            return "a position is LAT,LON in degrees: latitude to 90, longitude to 180"
        return LatLon(float(lat), float(lon))
    place = engine.picture.own_place(command.at_s)
    if place is None:
        last = engine.picture.own.position.last()
        seen = f"; last fix at {engine.label(last.at_s)}" if last else ""
        return f"no position now{seen}: give the place: anchor at LAT,LON"
    return bow_place(engine, place, command.at_s)


def bow_place(engine: Engine, antenna_place: LatLon, at_s: float) -> LatLon:
    """From the antenna to the bow roller, along the heading; the antenna's place without one."""
    antenna = engine.orders.vessel.antenna
    heading = engine.picture.own.heading_deg(at_s)
    if antenna is None or heading is None:
        return antenna_place
    return offset(antenna_place, heading, antenna.from_bow_m)


def _answer(engine: Engine, command: Command, lead: str) -> Answer:
    """What was set, which rules stand now, and what they still lack."""
    lines = [lead]
    data: dict[str, Any] = {"watch": engine.watch.watch, "crew": engine.watch.crew}
    mark = engine.watch.mark
    if mark is not None:
        data["mark"] = {"lat": mark.lat, "lon": mark.lon, "rode_m": mark.rode_m}
        data["depth_m"], data["rise_m"] = mark.depth_m, mark.rise_m
        place = engine.picture.own_place(command.at_s)
        if place is not None:
            east, north = east_north(mark.place, place)
            data["distance_m"] = round(math.hypot(east, north), 1)
            data["bearing_deg"] = round(plane_bearing(east, north))
            lines.append(
                f"the antenna is {data['distance_m']} m from the mark, "
                f"bearing {data['bearing_deg']:03d} from it"
            )
    code = 0
    standing, lacking = [], []
    for armed in engine.armed:
        if engine.watch.watch not in armed.rule.orders.watches:
            continue
        if armed.rule.orders.table != "drill":
            standing.append(armed.rule.orders.name)
        explain = getattr(armed.rule, "explain_watch", None)
        if explain is not None:
            lines += explain(engine.picture, command.at_s)
        judgement = armed.rule.judge(engine.picture, command.at_s, frozenset())
        if judgement.missing:
            lacking.append(f"{armed.rule.orders.name} lacks {', '.join(judgement.missing)}")
    data["rules"], data["lacking"] = standing, lacking
    lines.append("rules standing: " + (", ".join(standing) or "none"))
    if lacking:
        code = 1
        lines += [f"NOT WATCHED YET: {text}" for text in lacking]
    return code, "\n".join(lines), data


def _number(args: dict[str, Any], key: str, default: float | None) -> float | None:
    value = args.get(key)
    if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
        return float(value)
    return default
