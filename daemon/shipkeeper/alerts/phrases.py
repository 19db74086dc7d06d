"""Small phrases that texts are made of: lengths, bearings, speeds, names made clean."""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Mapping
from typing import Any

import msgspec

from ..words.geo import format_position
from ..words.units import MS_PER_KN

TITLE_MAX = 16
NAME_MAX = 40
WHY_MAX = 160  # a reason of the system's, or of a person
Facts = Mapping[str, Any]


class Words(msgspec.Struct, frozen=True):
    """Title, first line, the sentences that say more, and what to do where that is something
    else than for others of its kind."""

    title: str
    line: str
    more: tuple[str, ...] = ()
    todo: str = ""


def clean(name: object, most: int = NAME_MAX) -> str:
    """A name from the air or from a person: printable, one line, short. No control, format
    or direction signs, no padding signs of AIS."""
    text = "".join(
        " " if unicodedata.category(c)[0] in "CZ" or c == "@" else c for c in str(name)[:200]
    )
    return " ".join(text.split())[:most]


def fit(title: str) -> str:
    """At most TITLE_MAX characters, without a cut-off blank."""
    return title[:TITLE_MAX].rstrip()


def metres(value: Any) -> str:
    """52.13 -> '52 m'; 1500 -> '0.81 NM'."""
    if value is None:
        return "? m"
    if abs(value) < 10:
        return f"{value:.1f} m"
    return f"{value:.0f} m" if abs(value) < 1000 else f"{value / 1852:.2f} NM"


def as_fine_as(value: Any, doubt_m: Any) -> Any:
    """A length with no more figures than its doubt leaves: 1234 +/- 300 -> 1200."""
    if value is None or not doubt_m or doubt_m < 1.0:
        return value
    step = 10.0 ** math.floor(math.log10(doubt_m))
    return round(value / step) * step


def bearing(value: Any) -> str:
    return "" if value is None else f"{round(value) % 360:03d}"


def knots(value: Any) -> str:
    return "" if value is None else f"{value / MS_PER_KN:.1f} kn"


def joined(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def listed(names: Any) -> str:
    """['drag', 'ring'] -> 'drag, ring'; '' for anything else."""
    if not isinstance(names, list | tuple):
        return ""
    return ", ".join(clean(name) for name in names)


def bears(f: Facts) -> str:
    return f"bearing {bearing(f.get('bearing_deg'))}" if f.get("bearing_deg") is not None else ""


def course(f: Facts) -> str:
    return f", course {bearing(f['course_deg'])}" if f.get("course_deg") is not None else ""


def position(what: str, lat: Any, lon: Any) -> tuple[str, ...]:
    """A sentence with a position, when there is one."""
    return () if lat is None or lon is None else (f"{what} {format_position(lat, lon)}",)
