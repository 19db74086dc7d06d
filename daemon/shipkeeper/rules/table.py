"""The target table: what `shipkeeper targets` shows, as rows of plain data."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from ..picture.encounter import encounter
from ..words.geo import east_north, range_bearing, velocity
from .rule import Rule
from .zone import Zone

if TYPE_CHECKING:
    from ..picture.picture import Picture


def target_table(picture: Picture, rules: Iterable[Rule], now_s: float) -> list[dict[str, Any]]:
    """One row a target, the nearest first; None where something is not known."""
    own_place = picture.own_place(now_s)
    motion = picture.own_velocity(now_s)
    heading = picture.own.heading_deg(now_s)
    zones: list[Zone] = [rule for rule in list[object](rules) if isinstance(rule, Zone)]
    rows = []
    for target in picture.targets:
        row: dict[str, Any] = {
            "name": target.label,
            "identity": f"{target.mmsi:09d}" if target.mmsi is not None else target.key,
            "source": target.kind,
            "station": target.station,
            "lat": target.lat,
            "lon": target.lon,
            "range_m": None,
            "bearing_deg": None,
            "relative_deg": None,
            "course_deg": target.course_deg,
            "speed_ms": target.speed_ms,
            "cpa_m": None,
            "tcpa_s": None,
            "bow_range_m": None,
            "bow_time_s": None,
            "age_s": None if target.placed_s is None else round(now_s - target.placed_s, 1),
            "lost": target.lost,
            "zones": [zone.orders.name for zone in zones if zone.contains(target.key)],
            "left_out_by": [],
        }
        place = target.place_at(now_s)
        if own_place is not None and place is not None:
            row["range_m"], row["bearing_deg"] = range_bearing(own_place, place)
            if heading is not None:
                row["relative_deg"] = (row["bearing_deg"] - heading) % 360
            row["left_out_by"] = [
                f"{zone.orders.name}: {why}"
                for zone in zones
                if (why := zone.orders.ignore.why_not(target, row["range_m"], now_s))
            ]
            if motion is not None:
                met = encounter(*east_north(own_place, place), velocity(*motion), target.motion())
                row |= {
                    "cpa_m": met.cpa_m,
                    "tcpa_s": met.tcpa_s,
                    "bow_range_m": met.bow_range_m,
                    "bow_time_s": met.bow_time_s,
                }
        rows.append(row)
    return sorted(rows, key=lambda r: r["range_m"] if r["range_m"] is not None else 1e12)
