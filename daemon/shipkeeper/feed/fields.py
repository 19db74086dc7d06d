"""Fields of a sentence, read strictly: an absent, unreadable or absurd field is None.

Field places come from pynmea2's layouts by name; its conversions are not used, since they
turn an empty position into 0, 0 and let nan, 95 degrees and 75 minutes pass. Texts are
ASCII here; the door (decode.py) sees to that.

A receiver says the same time and place in three sentences of one burst, and the same date
all day: those three are remembered for a moment, since they are the dearest to read.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import lru_cache
from operator import itemgetter

import pynmea2

from ..words.units import M_PER_NM, MS_PER_KN

Fields = list[str]
PAD = [""] * 24  # put behind every sentence: a field that was not sent reads as empty

MPH_MS = 0.44704  # statute mile per hour, exact
M_PER_MILE = 1609.344  # statute mile, exact

_SIGNED = re.compile(r"[+-](?:[0-9]+\.?[0-9]*|\.[0-9]+)").fullmatch
_MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
_ESCAPED = re.compile(r"\^([0-9A-Fa-f]{2})")


def layout(kind: str, *names: str) -> Callable[[Fields], tuple[str, ...]]:
    """Picks these fields, by pynmea2's names, out of a split and padded sentence."""
    places = pynmea2.TalkerSentence.sentence_types[kind].name_to_idx
    return itemgetter(*(places[name] + 1 for name in names))


def number(text: str, low: float, high: float) -> float | None:
    """A plain decimal within low..high; nan, inf, exponents and blanks are none."""
    if not (text.replace(".", "", 1).isdigit() or _SIGNED(text)):
        return None
    value = float(text)
    return value if low <= value <= high else None


def whole(text: str, low: int, high: int) -> int | None:
    """A plain whole number within low..high."""
    if not text.isdigit() or len(text) > 9:
        return None
    value = int(text)
    return value if low <= value <= high else None


def degrees(text: str) -> float | None:
    """A direction, 0 <= x < 360; 360 is north."""
    value = number(text, 0.0, 360.0)
    return 0.0 if value == 360.0 else value


def speed_kn_ms(text: str, high_kn: float = 200.0) -> float | None:
    """A speed in knots -> m/s."""
    value = number(text, 0.0, high_kn)
    return None if value is None else value * MS_PER_KN


MOST_WIND_MS = 120.0  # above the strongest gust on record, 113 m/s at Barrow Island (from memory)
_SPEED_UNITS = {"N": MS_PER_KN, "K": 1 / 3.6, "M": 1.0, "S": MPH_MS}
_RANGE_UNITS = {"N": (M_PER_NM, MS_PER_KN), "K": (1000.0, 1 / 3.6), "S": (M_PER_MILE, MPH_MS)}


def speed_ms(text: str, unit: str) -> float | None:
    """A wind speed with its unit letter K km/h, M m/s, N knots, S miles per hour -> m/s."""
    factor = _SPEED_UNITS.get(unit)
    value = number(text, 0.0, 999.0)
    if factor is None or value is None:
        return None
    speed = value * factor
    # One bound in m/s for all units: 999 is a wind in none of them.
    return speed if speed <= MOST_WIND_MS else None


def range_units(unit: str) -> tuple[float, float] | None:
    """(metres per unit of distance, m/s per unit of speed) of a radar's unit letter."""
    return _RANGE_UNITS.get(unit)


def latitude(text: str, side: str) -> float | None:
    """ddmm.mmm and N or S -> degrees, north positive."""
    value = _degrees_minutes(text, 90.0)
    if value is None:
        return None
    return value if side == "N" else -value if side == "S" else None


def longitude(text: str, side: str) -> float | None:
    """dddmm.mmm and E or W -> degrees, east positive."""
    value = _degrees_minutes(text, 180.0)
    if value is None:
        return None
    return value if side == "E" else -value if side == "W" else None


@lru_cache(maxsize=16)
def _degrees_minutes(text: str, limit: float) -> float | None:
    if not text.replace(".", "", 1).isdigit():
        return None
    value = float(text)
    if not value < 18001.0:
        return None
    whole_degrees = value // 100.0
    minutes = value - whole_degrees * 100.0
    if minutes >= 60.0:
        return None
    value = whole_degrees + minutes / 60.0
    return value if value <= limit else None


@lru_cache(maxsize=16)
def second_of_day(text: str) -> float | None:
    """hhmmss.sss -> seconds; a leap second (60) is taken."""
    head, rest = text[:6], text[6:]
    if len(head) < 6 or not head.isdigit():
        return None
    if rest and not (rest[0] == "." and (len(rest) == 1 or rest[1:].isdigit())):
        return None
    clock = int(head)
    hours, minutes, seconds = clock // 10_000, clock // 100 % 100, clock % 100
    if hours > 23 or minutes > 59 or seconds > 60:
        return None
    whole_seconds = float(hours * 3600 + minutes * 60 + seconds)
    return whole_seconds + float("0" + rest) if rest else whole_seconds


@lru_cache(maxsize=8)
def ddmmyy(text: str) -> tuple[int, int, int] | None:
    """Date of an RMC -> (year, month, day). Two digits: 1980 to 2079, GPS began in 1980."""
    if len(text) != 6 or not text.isdigit():
        return None
    year = int(text[4:6])
    return date(2000 + year if year < 80 else 1900 + year, int(text[2:4]), int(text[0:2]))


def date(year: int, month: int, day: int) -> tuple[int, int, int] | None:
    """The date if there is such a day."""
    if not (1980 <= year <= 2199 and 1 <= month <= 12 and day >= 1):
        return None
    leap = month == 2 and year % 4 == 0 and (year % 100 != 0 or year % 400 == 0)
    return (year, month, day) if day <= _MONTH_DAYS[month - 1] + leap else None


def unescape(text: str) -> str:
    """`^2C` -> ',': how reserved characters are written in text fields."""
    if "^" not in text:
        return text
    shown = _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text)
    return "".join(c if c.isprintable() else "?" for c in shown)
