"""What a field of a struct wants, in words for a person: read off its annotation."""

from __future__ import annotations

import types
import typing
from collections.abc import Iterator
from functools import cache
from typing import Any, Literal

import msgspec

from ..words.orders import Number, Place, Quantity
from ..words.units import UNITS, example, quantity_text


class Field(msgspec.Struct, frozen=True):
    """One field of a struct: its key in the file, its Python name, its type."""

    key: str
    name: str
    kind: Any
    required: bool


@cache
def fields_of(struct: type[msgspec.Struct]) -> tuple[Field, ...]:
    """The fields in the order of the struct, types with their Quantity and Number marks."""
    hints = typing.get_type_hints(struct, include_extras=True)
    return tuple(
        Field(f.encode_name, f.name, hints[f.name], f.required)
        for f in msgspec.structs.fields(struct)
    )


def options(kind: Any) -> tuple[Any, ...]:
    """The choices of a type without None; its Literals made one. Of a plain type: itself."""
    flat = [a for a in _flat(kind) if a is not type(None)]
    words = [w for a in flat if typing.get_origin(a) is Literal for w in typing.get_args(a)]
    rest = tuple(a for a in flat if typing.get_origin(a) is not Literal)
    return (Literal[tuple(words)], *rest) if words else rest


def mark_of(kind: Any) -> Quantity | Number | None:
    """The mark of an Annotated type, if it has one of ours."""
    if typing.get_origin(kind) is not typing.Annotated:
        return None
    marks = [m for m in typing.get_args(kind)[1:] if isinstance(m, Quantity | Number)]
    return marks[0] if marks else None


def is_struct(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, msgspec.Struct)


def expected(kind: Any) -> str:
    """'a length with its unit, such as "50 m"'; '"ship", "anchor" or [latitude, longitude]'."""
    choices = options(kind)
    if len(choices) > 1:
        return ", or ".join(expected(choice) for choice in choices)
    return _expected_one(choices[0])


def bounds(mark: Quantity | Number) -> str:
    """'1 s to 10 min', '-90 to 90'."""
    if isinstance(mark, Number):
        return f"{mark.low:.12g} to {mark.high:.12g}"
    low, high = (quantity_text(value, mark.dimension) for value in (mark.low, mark.high))
    return f"{low} to {high}"


def units_of(dimension: str) -> str:
    """'m, mm, cm, km, ft, fathom, cable or NM': each unit once."""
    units = [u for u in UNITS[dimension] if not (u.endswith("s") and u[:-1] in UNITS[dimension])]
    return units[0] if len(units) == 1 else f"{', '.join(units[:-1])} or {units[-1]}"


def dimension_word(dimension: str) -> str:
    """'a length', 'an angle', 'a rate of change'."""
    word = dimension.replace("_", " ").replace("bytes", "size")
    return f"{'an' if word[0] in 'aeiou' else 'a'} {word}"


def _flat(kind: Any) -> Iterator[Any]:
    if typing.get_origin(kind) in (typing.Union, types.UnionType):
        for choice in typing.get_args(kind):
            yield from _flat(choice)
    else:
        yield kind


def _expected_one(kind: Any) -> str:
    origin, mark = typing.get_origin(kind), mark_of(kind)
    if isinstance(mark, Quantity):
        sample = example(mark.dimension)
        return f'{dimension_word(mark.dimension)} with its unit, such as "{sample}"'
    if isinstance(mark, Number):
        whole = "a whole number" if typing.get_args(kind)[0] is int else "a number"
        return f"{whole} from {bounds(mark)}"
    if origin is typing.Annotated:
        return expected(typing.get_args(kind)[0])
    if origin is Literal:
        words = [f'"{word}"' for word in typing.get_args(kind)]
        return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} or {words[-1]}"
    if origin in (tuple, list, frozenset, set):
        return _expected_list(kind)
    if origin is dict:
        return "a table { ... }"
    if is_struct(kind):
        return f"a table {{ {', '.join(field.key for field in fields_of(kind))} }}"
    plain = {
        str: "a text in quotes",
        bool: "true or false",
        int: "a whole number",
        float: "a number",
        Any: "a value",
    }
    return plain.get(kind, f"a {getattr(kind, '__name__', 'value')}")


def _expected_list(kind: Any) -> str:
    if kind == Place:
        return "[latitude, longitude]"
    inner = typing.get_args(kind)
    if len(inner) == 1 or (len(inner) == 2 and inner[1] is Ellipsis):
        return f"a list [ ... ], each {expected(inner[0])}"
    return f"a list of {len(inner)}: [{', '.join(expected(item) for item in inner)}]"
