"""Sentences of a radar's tracker: TTM by range and bearing, TLL by latitude and longitude.

TTD, the packed form, is not read: its bit layout is in no source at hand.
"""

from __future__ import annotations

from typing import Literal

from ..words.observations import Observation, RadarEcho, RadarPlace
from .fields import (
    Fields,
    degrees,
    latitude,
    layout,
    longitude,
    number,
    range_units,
    unescape,
    whole,
)

Observations = tuple[Observation, ...]

MAX_NUMBER = 1023
_STATUS: dict[str, Literal["tracking", "acquiring", "lost"]] = {
    "T": "tracking",
    "Q": "acquiring",
    "L": "lost",
}

_TTM = layout(
    "TTM", "target_number", "distance", "bearing", "brg_ref", "speed", "cog", "cog_unit",
    "dist_unit", "name", "status", "reference",
)  # fmt: skip
_TLL = layout(
    "TLL", "target_number", "lat", "lat_dir", "lon", "lon_dir", "target_name",
    "target_status", "reference",
)  # fmt: skip


def ttm(fields: Fields) -> Observations:
    """An echo by range and bearing. Angles against the bow are flagged: the heading that
    they need, and own motion for a relative course, are not known here. The radar's own
    CPA and TCPA are not used."""
    (
        number_, distance_, bearing_, bearing_ref, speed_, course_, course_ref, unit, name,
        status_, reference,
    ) = _TTM(fields)  # fmt: skip
    target, status = whole(number_, 0, MAX_NUMBER), _STATUS.get(status_)
    if target is None or status is None:
        return ()
    distance = speed = None
    factors = range_units(unit)
    if factors is not None:
        distance, speed = number(distance_, 0.0, 500.0), number(speed_, 0.0, 500.0)
        distance = None if distance is None else distance * factors[0]
        speed = None if speed is None else speed * factors[1]
    bearing = degrees(bearing_) if bearing_ref in ("T", "R") else None
    course = degrees(course_) if course_ref in ("T", "R") else None
    return (
        RadarEcho(
            number=target,
            range_m=distance,
            bearing_deg=bearing,
            bearing_relative=bearing_ref == "R",
            speed_ms=speed,
            course_deg=course,
            course_relative=course_ref == "R",
            status=status,
            name=unescape(name),
            reference=reference == "R",
        ),
    )


def tll(fields: Fields) -> Observations:
    """An echo by its place."""
    number_, lat_, ns, lon_, ew, name, status_, reference = _TLL(fields)
    target, status = whole(number_, 0, MAX_NUMBER), _STATUS.get(status_)
    lat, lon = latitude(lat_, ns), longitude(lon_, ew)
    if target is None or status is None or lat is None or lon is None:
        return ()
    return (RadarPlace(target, lat, lon, status, unescape(name), reference == "R"),)
