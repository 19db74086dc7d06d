"""The graphs under each other: distance from the mark, nearest ship, wind, depth."""

from __future__ import annotations

import math
from typing import Any

from ...words.geo import LatLon, east_north
from ...words.units import M_PER_NM, MS_PER_KN
from .chart import graph
from .night import Night
from .svg import both

NEAREST_SHOWN_M = M_PER_NM


def graphs(night: Night) -> str:
    return "".join(both(draw(night, 340.0), draw(night, 540.0)) for draw in _GRAPHS)


def _from_mark(night: Night, width: float) -> str:
    mark = night.mark
    values = [
        (
            s.at_s,
            None
            if mark is None or s.lat is None or s.lon is None
            else math.hypot(*east_north(mark, LatLon(s.lat, s.lon))),
        )
        for s in night.log.samples
    ]
    limits = [
        (rule.radius_m, "alarm")
        for rule in _rules(night, "drag")
        if rule.radius_m is not None and mark is not None
    ]
    return graph(
        night, width, "distance from the mark (m)", "m", values, limits=limits, least_span=10.0
    )


def _nearest(night: Night, width: float) -> str:
    values = [(s.at_s, s.nearest_m) for s in night.log.samples]
    return graph(
        night, width, "range to the nearest ship (m, up to 1 NM)", "m",
        [(t, None if v is None or v > NEAREST_SHOWN_M else v) for t, v in values],
        ceiling=NEAREST_SHOWN_M, least_span=100.0,
    )  # fmt: skip


def _wind(night: Night, width: float) -> str:
    values = [
        (s.at_s, None if s.wind_ms is None else s.wind_ms / MS_PER_KN) for s in night.log.samples
    ]
    limits = [
        (rule.stronger_than_ms / MS_PER_KN, "limit")
        for rule in _rules(night, "wind")
        if getattr(rule, "stronger_than_ms", None) is not None
    ]
    return graph(night, width, "wind (kn)", "kn", values, limits=limits, least_span=10.0)


def _depth(night: Night, width: float) -> str:
    values = [(s.at_s, s.depth_m) for s in night.log.samples]
    return graph(
        night, width, "depth of water (m)", "m", values, floor=None, upside_down=True,
        least_span=2.0,
    )  # fmt: skip


def _rules(night: Night, table: str) -> list[Any]:
    return [rule for rule in night.orders.rules if rule.table == table]


_GRAPHS = (_from_mark, _nearest, _wind, _depth)
