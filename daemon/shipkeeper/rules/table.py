"""The target table: what `shipkeeper targets` shows, as rows of plain data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from ..picture.outline import POINT, gap, own_outline, target_outline, together
from ..picture.targets import Target
from ..words.geo import east_north, range_bearing
from .proximity import Proximity
from .sight import Sight, look, own_course, reckoned_way
from .threat import doubt_of, one_figure
from .zone import Zone

if TYPE_CHECKING:
    from ..picture.picture import Picture

FAR = 1e12


def target_table(picture: Picture, rules: Iterable[object], now_s: float) -> list[dict[str, Any]]:
    """One row a ship, the nearest first; None where something is not known. An AIS target and
    its radar echo are one row with both sources."""
    watchers: list[Zone | Proximity] = [
        rule for rule in rules if isinstance(rule, Zone | Proximity)
    ]
    sight = look(picture, picture.vessel, now_s, "antenna")
    rows = [
        _row(picture, target, watchers, sight, now_s)
        for target in picture.targets
        if target.kind == "ais" or target.partner is None
    ]
    return sorted(rows, key=lambda r: (FAR if r["range_m"] is None else r["range_m"], r["key"]))


def _source(target: Target) -> str:
    if target.led_s is not None:
        return "radar"
    return target.kind if target.partner is None else "ais+radar"


def _row(
    picture: Picture,
    target: Target,
    watchers: list[Zone | Proximity],
    sight: Sight,
    now_s: float,
) -> dict[str, Any]:
    age = None if target.placed_s is None else round(now_s - target.placed_s, 1)
    row: dict[str, Any] = {
        "key": target.key,
        "name": target.label,
        "identity": f"{target.mmsi:09d}" if target.mmsi is not None else target.key,
        "source": _source(target),
        "ais_silent_s": None if target.led_s is None else round(now_s - target.led_s),
        "station": target.station,
        "lat": None,
        "lon": None,
        "range_m": None,
        "hull_range_m": None,
        "bearing_deg": None,
        "relative_deg": None,
        "course_deg": target.course_deg,
        "speed_ms": target.speed_ms,
        "heading_deg": target.heading_deg,
        "cpa_m": None,
        "tcpa_s": None,
        "cpa_doubt_m": None,
        "bow_range_m": None,
        "bow_time_s": None,
        "passes": "",
        "age_s": age,
        "lost": target.lost,
        "held_back": target.held_back > 0,
        "assumed": target_outline(target).assumed,
        "zones": [
            w.orders.name for w in watchers if isinstance(w, Zone) and w.contains(target.key)
        ],
        "left_out_by": [],
    }
    if target.reckoned is not None:
        row["speed_ms"], row["course_deg"] = reckoned_way(target.reckoned)
        row["assumed"] = together(row["assumed"], "course and speed from its places")
    place = target.place_at(now_s)
    if place is not None:
        row["lat"], row["lon"] = place.lat, place.lon
    if sight.place is not None and place is not None:
        row["range_m"], row["bearing_deg"] = range_bearing(sight.place, place)
        if sight.heading_deg is not None:
            row["relative_deg"] = (row["bearing_deg"] - sight.heading_deg) % 360.0
        at = east_north(sight.place, place)
        own = own_outline(picture.vessel, sight.heading_deg, own_course(picture, now_s))
        row["hull_range_m"] = round(gap(own, target_outline(target), *at), 1)
        met = sight.met(target, *at)
        moves = target.speed_ms is not None or target.reckoned is not None
        if met is not None and moves:  # unknown is not still
            doubt = doubt_of(target, met.range_m, met.tcpa_s, sight, POINT)
            row |= {
                "cpa_m": met.cpa_m,
                "tcpa_s": met.tcpa_s,
                "cpa_doubt_m": one_figure(doubt),
                "bow_range_m": met.bow_range_m,
                "bow_time_s": met.bow_time_s,
                "passes": met.passes,
            }
    row["left_out_by"] = [
        f"{watcher.orders.name}: {why}"
        for watcher in watchers
        if (why := watcher.left_out(target, row["range_m"], now_s, sight.utc_s))
    ]
    return row
