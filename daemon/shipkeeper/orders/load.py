"""The orders file as a whole: text in, typed orders or every problem out.

Kinds of rules, inputs and outlets are handed in, so that this package knows none of them.
A faulty file gives every problem at once and no orders, and never half of them.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path as FilePath
from typing import Any

import msgspec
import tomli

from ..words.orders import Orders
from .convert import Fault
from .costs import remarks
from .cross import cross_check
from .entries import Entry, Kinds, entries, where
from .lines import Lines, Path
from .problems import BadOrders, Problem, in_order

MAX_BYTES = 1_000_000  # a whole fleet's orders are smaller; a device or a recording is not

Reading = tuple[Orders | None, list[Problem], list[Problem]]


def load(path: FilePath, kinds: Kinds) -> Orders:
    """Typed orders, or BadOrders with every problem."""
    orders, problems, _ = read_file(path, kinds)
    if orders is None:
        raise BadOrders(str(path), problems)
    return orders


def read_file(path: FilePath, kinds: Kinds) -> Reading:
    """As `read`; a file that cannot be read is a problem as well."""
    try:
        with path.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        return None, [Problem(1, "orders file", "", f"cannot be read: {reason}")], []
    if len(data) > MAX_BYTES:
        text = "expected an orders file of less than 1 MB"
        return None, [Problem(1, "orders file", "", text)], []
    try:
        return read(data.decode("utf-8-sig"), str(path), kinds)
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        text = "expected UTF-8 text"
        return None, [Problem(line, "orders file", "", text, f"byte {data[error.start]:#x}")], []


def read(text: str, path: str, kinds: Kinds) -> Reading:
    """(orders or None, problems, warnings and notes), each in the order of the file."""
    try:
        tree = tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        return None, [_not_toml(text, error)], []
    except (ValueError, RecursionError) as error:  # figures or brackets without end
        return None, [Problem(1, "TOML", "", f"cannot be read: {str(error).split(';')[0]}")], []
    return read_tree(tree, text, path, kinds)


def read_tree(tree: Mapping[str, Any], text: str, path: str, kinds: Kinds) -> Reading:
    """As `read`, of a text that is taken apart already (and may have been changed since)."""
    lines = Lines(text)
    faults: list[Fault] = []
    found = entries(tree, kinds, faults)
    cross_check(found, [kind.table for kind in kinds.rules], faults)
    if faults:
        told = [_problem(f.path, f.expected, f.found, tree, lines) for f in faults]
        return None, list(in_order(told)), []
    orders = _orders(found, kinds, path, text)
    paths = {id(entry.made): entry.path for entry in found}
    warnings = []
    for remark in remarks(orders, tree, paths):
        problem = _problem(remark.path, remark.expected, "", tree, lines)
        warnings.append(msgspec.structs.replace(problem, weight=remark.weight))
    names = {table.name for table in orders.outlets}
    for entry in found:
        if entry.table != "call_list" or not names:
            continue
        for name in entry.made.call:
            if name not in names:
                text = f'no outlet "{name}" yet: nobody is called by that name'
                problem = _problem((*entry.path, "call"), text, "", tree, lines)
                warnings.append(msgspec.structs.replace(problem, weight="warning"))
    return orders, [], list(in_order(warnings))


def _orders(found: Sequence[Entry], kinds: Kinds, path: str, text: str) -> Orders:
    made: dict[str, list[Any]] = {}
    for entry in found:
        made.setdefault(entry.table, []).append(entry.made)
    rule_tables = dict.fromkeys(kind.table for kind in kinds.rules)
    return Orders(
        vessel=made["vessel"][0],
        rules=tuple(rule for table in rule_tables for rule in made.get(table, ())),
        inputs=tuple(made.get("input", ())),
        outlets=tuple(made.get("outlet", ())),
        call_list=tuple(sorted(made.get("call_list", ()), key=lambda entry: entry.after_s)),
        recorder=made["recorder"][0] if "recorder" in made else None,
        extra={kind.table: made[kind.table][0] for kind in kinds.extra if kind.table in made},
        path=path,
        text=text,
    )


def _problem(
    path: Path, expected: str, found: str, tree: Mapping[str, Any], lines: Lines
) -> Problem:
    """A fault with its place: the line, the table by name, the key below it."""
    holder: Any = tree
    table: Path = path[:1]
    if len(path) > 1 and isinstance(path[1], int):
        table = path[:2]
    for part in table:
        try:
            holder = holder[part]
        except (KeyError, IndexError, TypeError):
            holder = {}
    name = where(table, holder if isinstance(holder, dict) else {}) if table else "orders"
    return Problem(lines.of(path), name, _key(path[len(table) :]), expected, found)


def _key(path: Path) -> str:
    """'ring.to', 'polygon[2]': items are counted from 1, as people do."""
    text = ""
    for part in path:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}"
    return text.lstrip(".")


_NO_QUOTES = re.compile(r"\s*([\w.-]+)\s*=\s*([+-]?[\d.]+\s*[A-Za-z%/]+)\s*(?:#.*)?$")


def _not_toml(text: str, error: tomli.TOMLDecodeError) -> Problem:
    """One line for a text that is no TOML: where, why, and what stands there."""
    rows = text.split("\n")
    reason = str(error).partition(" (at ")[0]
    line = min(error.lineno, len(rows))
    row = rows[line - 1].strip()
    plain = _NO_QUOTES.match(row)
    hint = f'. A quantity stands in quotes: {plain[1]} = "{plain[2]}"' if plain else ""
    at = f"expected TOML: {reason[0].lower()}{reason[1:]}{hint}"
    secret = "://" in row or "=" not in row
    return Problem(line, "TOML", "", at, "" if secret else row[:60])
