"""Values of the file to values of the structs, one field at a time, every fault told.

A struct's annotations are the whole truth: `Quantity` wants a string with a unit, `Number` a
plain number, a Literal one of its words, a nested struct an inline table, a tuple an array.
"""

from __future__ import annotations

import math
import re
import typing
from typing import Any, Literal

import msgspec

from ..words.orders import Number, Quantity
from ..words.units import UNITS, UnitError, parse_quantity
from .lines import Path
from .problems import is_one_line, near, shown
from .words_for import (
    bounds,
    dimension_word,
    expected,
    is_struct,
    mark_of,
    options,
    units_of,
)

FAULTY: Any = object()  # what a value becomes that could not be read

# What people write for units, besides the units themselves in another case.
_UNIT_SLIPS = {
    "nmi": "NM", "mile": "NM", "miles": "NM", "metre": "m", "metres": "m", "meter": "m",
    "meters": "m", "feet": "ft", "foot": "ft", "kt": "kn", "kts": "kn", "knot": "kn",
    "knots": "kn", "sec": "s", "secs": "s", "second": "s", "seconds": "s", "mins": "min",
    "minute": "min", "minutes": "min", "hour": "h", "hours": "h", "hr": "h", "hrs": "h",
    "d": "days", "degree": "deg", "degrees": "deg", "volt": "V", "volts": "V", "percent": "%",
}  # fmt: skip
_LOOSE = re.compile(r"\s*([+-]?\d+(?:[.,]\d+)?)\s*([^\d\s.,]+)\s*\Z")
_BARE = re.compile(r"\s*[+-]?\d+(?:\.\d*)?\s*\Z")


class Fault(msgspec.Struct, frozen=True):
    """What is wrong at one path below a table, before file and line are known."""

    path: Path
    expected: str
    found: str = ""


Faults = list[Fault]


def convert(kind: Any, raw: Any, path: Path, faults: Faults) -> Any:
    """The value; or FAULTY, with at least one fault more in the list."""
    choices = options(kind)
    if len(choices) == 1:
        return _one(choices[0], raw, path, faults)
    likely = [choice for choice in choices if _is_like(choice, raw)]
    for choice in likely:
        mine: Faults = []
        value = _one(choice, raw, path, mine)
        if value is not FAULTY:
            return value
        if len(likely) == 1 and any(len(fault.path) > len(path) for fault in mine):
            faults += mine
            return FAULTY
    return _refuse(kind, raw, path, faults)


def _one(kind: Any, raw: Any, path: Path, faults: Faults) -> Any:
    mark, origin = mark_of(kind), typing.get_origin(kind)
    if isinstance(mark, Quantity):
        return _quantity(kind, mark, raw, path, faults)
    if isinstance(mark, Number):
        return _number(kind, mark, raw, path, faults)
    if origin is typing.Annotated:
        return convert(typing.get_args(kind)[0], raw, path, faults)
    if origin is Literal:
        fits = any(type(raw) is type(word) and raw == word for word in typing.get_args(kind))
        return raw if fits else _refuse(kind, raw, path, faults)
    if origin in (tuple, list, frozenset, set):
        return _items(kind, origin, raw, path, faults)
    if is_struct(kind):
        if not isinstance(raw, dict):
            return _refuse(kind, raw, path, faults)
        from .tables import build  # tables are made of values, and values may be tables

        return build(kind, raw, path, faults)
    return _plain(kind, raw, path, faults)


def _is_like(kind: Any, raw: Any) -> bool:
    """Whether a choice is at all of the sort that stands in the file."""
    mark, origin = mark_of(kind), typing.get_origin(kind)
    if isinstance(mark, Quantity) or kind is str:
        return isinstance(raw, str)
    if isinstance(mark, Number) or kind in (int, float):
        return isinstance(raw, int | float) and not isinstance(raw, bool)
    if origin in (tuple, list, frozenset, set):
        return isinstance(raw, list)
    if is_struct(kind) or origin is dict:
        return isinstance(raw, dict)
    if origin is Literal:
        return any(type(word) is type(raw) for word in typing.get_args(kind))
    return True


def _refuse(kind: Any, raw: Any, path: Path, faults: Faults, hint: str = "") -> Any:
    if not hint and isinstance(raw, str):
        words = [w for c in options(kind) if typing.get_origin(c) is Literal
                 for w in typing.get_args(c) if isinstance(w, str)]  # fmt: skip
        meant = near(raw, words)
        hint = f'. Did you mean "{meant}"?' if meant else ""
    faults.append(Fault(path, f"expected {expected(kind)}", f"{shown(raw)}{hint}"))
    return FAULTY


def _quantity(kind: Any, mark: Quantity, raw: Any, path: Path, faults: Faults) -> Any:
    try:
        value = parse_quantity(raw, mark.dimension)
    except UnitError:
        return _no_quantity(kind, mark, raw, path, faults)
    if not mark.low <= value <= mark.high:
        faults.append(Fault(path, f"expected {bounds(mark)}", shown(raw)))
        return FAULTY
    return value


def _no_quantity(kind: Any, mark: Quantity, raw: Any, path: Path, faults: Faults) -> Any:
    """Say why a quantity cannot be read, and what was most likely meant."""
    number = isinstance(raw, int | float) and not isinstance(raw, bool)
    if number or (isinstance(raw, str) and _BARE.match(raw)):
        return _refuse(kind, raw, path, faults, hint=" without a unit")
    if not isinstance(raw, str):
        return _refuse(kind, raw, path, faults)
    loose = _LOOSE.match(raw)
    if loose is None:
        return _refuse(kind, raw, path, faults)
    figures, unit = loose[1].replace(",", "."), loose[2]
    units = UNITS[mark.dimension]
    slips = {name.casefold(): name for name in units} | _UNIT_SLIPS | {"°": "deg"}
    meant = unit if unit in units else slips.get(unit.casefold())
    if meant not in units:
        word = dimension_word(mark.dimension)
        faults.append(Fault(path, f"expected {word} in {units_of(mark.dimension)}", shown(raw)))
        return FAULTY
    return _refuse(kind, raw, path, faults, hint=f'. Did you mean "{figures} {meant}"?')


def _number(kind: Any, mark: Number, raw: Any, path: Path, faults: Faults) -> Any:
    base = typing.get_args(kind)[0]
    good = isinstance(raw, int) if base is int else isinstance(raw, int | float)
    if isinstance(raw, bool) or not good:
        return _refuse(kind, raw, path, faults)
    # A huge int cannot become a float, so the bounds come before the conversion.
    if (isinstance(raw, float) and not math.isfinite(raw)) or not mark.low <= raw <= mark.high:
        return _refuse(kind, raw, path, faults)
    return base(raw)


def _items(kind: Any, origin: Any, raw: Any, path: Path, faults: Faults) -> Any:
    if not isinstance(raw, list):
        return _refuse(kind, raw, path, faults)
    inner = typing.get_args(kind)
    if origin is tuple and not (len(inner) == 2 and inner[1] is Ellipsis):
        if len(raw) != len(inner):
            return _refuse(kind, raw, path, faults)
        wanted = list(inner)
    else:
        wanted = [inner[0]] * len(raw)
    values = [
        convert(item_kind, item, (*path, index), faults)
        for index, (item_kind, item) in enumerate(zip(wanted, raw, strict=True))
    ]
    return FAULTY if any(value is FAULTY for value in values) else origin(values)


def _plain(kind: Any, raw: Any, path: Path, faults: Faults) -> Any:
    """Types without a mark of ours: as strict as they come, and no number but a finite one."""
    if kind is float and isinstance(raw, int) and not isinstance(raw, bool):
        raw = float(raw) if abs(raw) < 2**53 else raw
    if isinstance(raw, float) and not math.isfinite(raw):
        return _refuse(kind, raw, path, faults)
    if kind is str and isinstance(raw, str) and not is_one_line(raw):
        faults.append(Fault(path, "expected a text on one line", shown(raw)))
        return FAULTY
    try:
        return msgspec.convert(raw, kind, strict=True)
    except (msgspec.ValidationError, TypeError):
        return _refuse(kind, raw, path, faults)
