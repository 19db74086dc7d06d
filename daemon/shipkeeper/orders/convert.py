"""Values of the file to values of the structs, one field at a time, every fault told.

A struct's annotations are the whole truth: `Quantity` wants a string with a unit, `Number` a
plain number, a Literal one of its words, a nested struct an inline table, a tuple an array.
"""

from __future__ import annotations

import math
import types
import typing
from collections.abc import Callable
from functools import cache
from typing import Any, Literal, TypeVar

import msgspec

from ..words.orders import Number, Quantity
from ..words.units import UnitError, example, parse_quantity
from .problems import did_you_mean

S = TypeVar("S", bound=msgspec.Struct)
Complain = Callable[[str, str], None]  # key path, what was expected

MISSING = object()


class Field(msgspec.Struct, frozen=True):
    """One field of a struct: its key in the file, its Python name, its type."""

    key: str
    name: str
    kind: Any
    required: bool


@cache
def fields_of(struct: type[msgspec.Struct]) -> tuple[Field, ...]:
    hints = typing.get_type_hints(struct, include_extras=True)
    return tuple(
        Field(f.encode_name, f.name, hints[f.name], f.required)
        for f in msgspec.structs.fields(struct)
    )


def build(struct: type[S], table: dict[str, Any], complain: Complain, path: str = "") -> S | None:
    """The struct, or None after complaining of everything that is wrong with the table."""
    known = {field.key: field for field in fields_of(struct)}
    bad = False
    for key in table:
        if key not in known:
            complain(path + key, f"unknown key{did_you_mean(key, known)}")
            bad = True
    values: dict[str, Any] = {}
    for key, field in known.items():
        raw = table.get(key, MISSING)
        if raw is MISSING:
            if field.required:
                complain(path + key, f"is missing; expected {expected(field.kind)}")
                bad = True
            continue
        value = convert(field.kind, raw, complain, path + key)
        if value is MISSING:
            bad = True
        else:
            values[field.name] = value
    return None if bad else struct(**values)


def convert(kind: Any, raw: Any, complain: Complain, path: str) -> Any:
    """The value, or MISSING after complaining."""
    origin = typing.get_origin(kind)
    if origin is typing.Annotated:
        return _marked(kind, raw, complain, path)
    if origin in (typing.Union, types.UnionType):
        return _one_of(typing.get_args(kind), raw, complain, path)
    if origin is Literal:
        words = typing.get_args(kind)
        if raw in words and not isinstance(raw, bool):
            return raw
        hint = did_you_mean(raw, [str(w) for w in words]) if isinstance(raw, str) else ""
        complain(
            path, f"expected {expected(kind)}; found {shown(raw)}{hint if '?' in hint else ''}"
        )
        return MISSING
    if origin is tuple:
        return _tuple(typing.get_args(kind), raw, complain, path)
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        if not isinstance(raw, dict):
            complain(path, f"expected {expected(kind)}; found {shown(raw)}")
            return MISSING
        built = build(kind, raw, complain, path + ".")
        return MISSING if built is None else built
    return _plain(kind, raw, complain, path)


def expected(kind: Any) -> str:
    """What a field wants, in words."""
    origin = typing.get_origin(kind)
    if origin is typing.Annotated:
        base, *marks = typing.get_args(kind)
        for mark in marks:
            if isinstance(mark, Quantity):
                sample = example(mark.dimension)
                return f'{_article(mark.dimension)} with a unit, for example "{sample}"'
            if isinstance(mark, Number):
                whole = "a whole number" if base is int else "a number"
                return f"{whole} from {mark.low:g} to {mark.high:g}"
        return expected(base)
    if origin in (typing.Union, types.UnionType):
        return " or ".join(expected(a) for a in typing.get_args(kind) if a is not type(None))
    if origin is Literal:
        return "one of " + ", ".join(f'"{word}"' for word in typing.get_args(kind))
    if origin is tuple:
        inner = [a for a in typing.get_args(kind) if a is not Ellipsis]
        return f"a list of {expected(inner[0])}" if inner else "a list"
    if isinstance(kind, type) and issubclass(kind, msgspec.Struct):
        keys = ", ".join(f.key for f in fields_of(kind))
        return f"a table {{ {keys} }}" if keys else "a table { }"
    words = {str: "a text", bool: "true or false", int: "a whole number", float: "a number"}
    return words.get(kind, "a value of another kind")


def shown(raw: Any) -> str:
    """A value as it stands in the file, cut short."""
    if isinstance(raw, bool):
        return "true" if raw else "false"
    text = f'"{raw}"' if isinstance(raw, str) else str(raw)
    return text if len(text) <= 40 else text[:37] + "..."


def _article(dimension: str) -> str:
    word = dimension.replace("_", " ")
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def _marked(kind: Any, raw: Any, complain: Complain, path: str) -> Any:
    base, *marks = typing.get_args(kind)
    for mark in marks:
        if isinstance(mark, Quantity):
            try:
                value = parse_quantity(raw, mark.dimension)
            except UnitError as error:
                complain(path, f"{error}; found {shown(raw)}")
                return MISSING
            if not mark.low <= value <= mark.high:
                complain(path, f"is out of bounds ({_bounds(mark)}); found {shown(raw)}")
                return MISSING
            return value
        if isinstance(mark, Number):
            good = isinstance(raw, int) if base is int else isinstance(raw, int | float)
            if isinstance(raw, bool) or not good or not math.isfinite(raw):
                complain(path, f"expected {expected(kind)}; found {shown(raw)}")
                return MISSING
            if not mark.low <= raw <= mark.high:
                complain(path, f"expected {expected(kind)}; found {shown(raw)}")
                return MISSING
            return base(raw)
    return convert(base, raw, complain, path)


def _bounds(mark: Quantity) -> str:
    unit = {"length": "m", "speed": "m/s", "time": "s", "voltage": "V", "angle": "deg"}
    return f"{mark.low:g} to {mark.high:g} {unit.get(mark.dimension, '')}".strip()


def _one_of(kinds: tuple[Any, ...], raw: Any, complain: Complain, path: str) -> Any:
    """The first kind that takes it; the complaint is of the likeliest one."""
    faults: list[tuple[str, str]] = []
    for kind in kinds:
        if kind is type(None):
            continue
        mine: list[tuple[str, str]] = []

        def note(key: str, text: str, mine: list[tuple[str, str]] = mine) -> None:
            mine.append((key, text))

        value = convert(kind, raw, note, path)
        if value is not MISSING:
            return value
        faults.append(mine[0])
    if len(faults) == 1:
        complain(*faults[0])
        return MISSING
    wanted = " or ".join(expected(kind) for kind in kinds if kind is not type(None))
    complain(path, f"expected {wanted}; found {shown(raw)}")
    return MISSING


def _tuple(kinds: tuple[Any, ...], raw: Any, complain: Complain, path: str) -> Any:
    if not isinstance(raw, list):
        complain(path, f"expected a list; found {shown(raw)}")
        return MISSING
    if len(kinds) == 2 and kinds[1] is Ellipsis:
        wanted = [kinds[0]] * len(raw)
    else:
        wanted = list(kinds)
        if len(raw) != len(wanted):
            complain(path, f"expected a list of {len(wanted)}; found {len(raw)}")
            return MISSING
    values = [convert(kind, item, complain, path) for kind, item in zip(wanted, raw, strict=True)]
    return MISSING if any(value is MISSING for value in values) else tuple(values)


def _plain(kind: Any, raw: Any, complain: Complain, path: str) -> Any:
    if kind is Any:
        return raw
    if kind is float and isinstance(raw, int) and not isinstance(raw, bool):
        return float(raw)
    if kind in (str, bool, int, float) and type(raw) is kind:
        return raw
    if typing.get_origin(kind) is dict and isinstance(raw, dict):
        return raw
    complain(path, f"expected {expected(kind)}; found {shown(raw)}")
    return MISSING
