"""One table of the file to one struct: keys compared, fields converted, cross-checks asked.

A table with a fault still has its cross-checks run, with the faulty fields guessed, so that
one reading tells everything. What a cross-check says about a guessed field is left aside.
"""

from __future__ import annotations

import re
import typing
from collections.abc import Mapping
from typing import Any, Literal, TypeVar

import msgspec

from ..words.orders import Number, Quantity, Table
from .convert import FAULTY, Fault, Faults, convert
from .lines import Path
from .problems import hidden, near, shown
from .secret_refs import is_secret_key, secret_fault
from .words_for import Field, expected, fields_of, is_struct, mark_of, options

S = TypeVar("S", bound=msgspec.Struct)


def build(struct: type[S], raw: Mapping[str, Any], path: Path, faults: Faults) -> S | Any:
    """The struct, or FAULTY with every fault of the table added to the list."""
    before = len(faults)
    fields = {field.key: field for field in fields_of(struct)}
    slips = _unknown(raw, fields, path, faults)
    values: dict[str, Any] = {}
    doubtful = set(slips.values())
    for key, field in fields.items():
        if key not in raw:
            if field.required and key not in doubtful:
                faults.append(Fault((*path, key), f"is missing; expected {expected(field.kind)}"))
                doubtful.add(key)
            continue
        seen = len(faults)
        value = convert(field.kind, raw[key], (*path, key), faults)
        secret = secret_fault(field, raw[key], value is FAULTY)
        if secret is not None:
            del faults[seen:]  # these might show it
            faults.append(Fault((*path, key), secret))
            value = FAULTY
        if value is FAULTY:
            doubtful.add(key)
        else:
            values[field.name] = value
    for key in doubtful:
        values[fields[key].name] = _guess(fields[key].kind)
    made = _make(struct, values, path, faults, guessed=bool(doubtful))
    if isinstance(made, Table):
        _cross_check(made, raw, doubtful, path, faults)
    return FAULTY if made is None or len(faults) > before else made


def _unknown(
    raw: Mapping[str, Any], fields: Mapping[str, Field], path: Path, faults: Faults
) -> dict[str, str]:
    """Faults of keys that are not known; returns those that are a slip of a known one."""
    slips: dict[str, str] = {}
    for key in raw:
        if key in fields:
            continue
        free = [known for known in fields if known not in raw and known not in slips.values()]
        meant = near(key, free)
        found = hidden(str(raw[key])) if is_secret_key(meant or key) else shown(raw[key])
        if meant is not None:
            slips[key] = meant
            hint = f'unknown key. Did you mean "{meant}"? Expected {expected(fields[meant].kind)}'
        else:
            hint = f"unknown key; expected one of {', '.join(fields)}"
        faults.append(Fault((*path, key), hint, found))
    return slips


def _make(
    struct: type[S], values: dict[str, Any], path: Path, faults: Faults, guessed: bool
) -> S | None:
    try:
        return struct(**values)
    except ValueError as error:  # a struct may refuse its values in __post_init__
        if not guessed:
            faults.append(Fault(path, str(error)))
        return None


def _cross_check(
    table: Any, raw: Mapping[str, Any], doubtful: set[str], path: Path, faults: Faults
) -> None:
    """What the kind itself says of its keys together."""
    try:
        said = table.problems()
    except (ArithmeticError, LookupError, ValueError):
        if not doubtful:
            raise
        return  # on guessed values a check may stumble; it is asked again when they are mended
    for key, text in said:
        top = key.split(".")[0].split("[")[0]
        if top in doubtful or any(re.search(rf"\b{re.escape(d)}\b", text) for d in doubtful):
            continue
        is_told = top != key or top not in raw or "found" in text
        found = "" if is_told else shown(raw[top])
        faults.append(Fault((*path, *key.split(".")), text, found))


def _guess(kind: Any) -> Any:
    """Some value of a type, for cross-checks of a table whose own value is faulty."""
    kind = options(kind)[0]
    origin, mark = typing.get_origin(kind), mark_of(kind)
    if isinstance(mark, Quantity | Number):
        return typing.get_args(kind)[0](mark.low)
    if origin is typing.Annotated:
        return _guess(typing.get_args(kind)[0])
    if origin is Literal:
        return typing.get_args(kind)[0]
    if origin is tuple:
        inner = typing.get_args(kind)
        endless = len(inner) == 2 and inner[1] is Ellipsis
        return () if endless else tuple(_guess(item) for item in inner)
    if is_struct(kind):
        try:
            return kind(**{f.name: _guess(f.kind) for f in fields_of(kind) if f.required})
        except ValueError:
            return None  # it refuses what is guessed; what needs it is not asked
    if kind in (str, bool, int, float):
        return kind()
    return origin() if callable(origin) else None
