"""Units: the constants of the trade and quantities written as text ("0.25 NM") made SI.

Orders give quantities as strings with a unit; a bare number is refused, since 45 of
what is the question that loses a boat. Everything inside the house is SI (m, m/s, s, V)
except angles, which stay in degrees because every sentence and every person uses them.
"""

from __future__ import annotations

import math
import re

M_PER_NM = 1852.0  # exact: International Hydrographic Conference, Monaco 1929
M_PER_FT = 0.3048  # exact: international foot
MS_PER_KN = 1852.0 / 3600.0
MAKING_WAY_MS = 0.26  # half a knot: below this a course is noise (common practice, no source)

# dimension -> unit -> factor to SI
UNITS: dict[str, dict[str, float]] = {
    "length": {
        "m": 1.0,
        "mm": 0.001,
        "cm": 0.01,
        "km": 1000.0,
        "ft": M_PER_FT,
        "fathom": 6 * M_PER_FT,
        "fathoms": 6 * M_PER_FT,
        "cable": M_PER_NM / 10,
        "cables": M_PER_NM / 10,
        "NM": M_PER_NM,
    },
    "speed": {"kn": MS_PER_KN, "m/s": 1.0, "km/h": 1 / 3.6},
    "time": {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0, "day": 86400.0, "days": 86400.0},
    "angle": {"deg": 1.0},
    "voltage": {"V": 1.0, "mV": 0.001},
    "share": {"%": 0.01},
    "rate_of_change": {"m/min": 1 / 60.0, "m/h": 1 / 3600.0, "cm/min": 0.01 / 60.0},
    "bytes": {"kB": 1e3, "MB": 1e6, "GB": 1e9},
}

_QUANTITY = re.compile(r"\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*([A-Za-z%/]+)\s*\Z")


class UnitError(ValueError):
    """A quantity that cannot be read; the text says what was expected."""


def parse_quantity(text: object, dimension: str) -> float:
    """'0.25 NM', 'length' -> 463.0 (SI). Raises UnitError with one clear line."""
    units = UNITS[dimension]
    if isinstance(text, bool) or not isinstance(text, str):
        raise UnitError(f'needs a unit, for example "{example(dimension)}"')
    match = _QUANTITY.match(text)
    if match is None:
        raise UnitError(f'is not a number and a unit, for example "{example(dimension)}"')
    number, unit = match.groups()
    factor = units.get(unit)
    if factor is None:
        raise UnitError(f'has the unit "{unit}"; expected one of {", ".join(units)}')
    value = float(number) * factor
    if not math.isfinite(value):
        raise UnitError("is not a finite number")
    return value


def example(dimension: str) -> str:
    """A quantity of that dimension as a person would write it."""
    return {
        "length": "50 m",
        "speed": "0.5 kn",
        "time": "30 s",
        "angle": "30 deg",
        "voltage": "12.1 V",
        "share": "10 %",
        "rate_of_change": "0.5 m/h",
        "bytes": "2 GB",
    }[dimension]


# dimension -> units in which a value is told, the preferred one first (shares of it count)
_TOLD_IN: dict[str, tuple[tuple[str, float], ...]] = {
    "length": (("NM", 0.05), ("m", 0.0)),
    "speed": (("kn", 0.0),),
    "time": (("days", 2.0), ("h", 1.0), ("min", 1.0), ("s", 0.0)),
    "angle": (("deg", 0.0),),
    "voltage": (("V", 0.0),),
    "share": (("%", 0.0),),
    "rate_of_change": (("m/h", 0.0),),
    "bytes": (("GB", 1.0), ("MB", 1.0), ("kB", 0.0)),
}
_SMALL = {"length": (0.1, "mm"), "time": (1.0, "ms")}  # dimension -> below this, in that unit


def quantity_text(value: float, dimension: str) -> str:
    """463.0, 'length' -> '0.25 NM'; 90.0, 'time' -> '90 s'. What parse_quantity reads again.

    The largest unit in which the value is a round figure; else the smallest, to 7 figures.
    """
    units = UNITS[dimension]
    below, small = _SMALL.get(dimension, (0.0, ""))
    if 0 < abs(value) < below:
        return f"{_figures(value / units[small])} {small}"
    for unit, step in _TOLD_IN[dimension]:
        count = value / units[unit]
        if step and (abs(count) < step or not _is_round(count / step)):
            continue
        return f"{_figures(count)} {unit}"
    raise AssertionError(dimension)  # the last unit of every row has step 0


def _is_round(count: float) -> bool:
    return abs(count - round(count)) < 1e-9 * max(1.0, abs(count))


def _figures(value: float) -> str:
    """Up to seven figures, never in powers of ten."""
    text = f"{value:.7g}"
    return f"{float(text):.12f}".rstrip("0").rstrip(".") if "e" in text else text
