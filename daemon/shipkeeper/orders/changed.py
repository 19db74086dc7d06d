"""Orders with one key changed, checked as if they had been written so; for `rehearse --sweep`.

A key is the rule and its key, 'drag.margin', 'inner guard zone.ring.to', 'inner-guard-zone.clear':
the rule by its name, by the same in small letters with hyphens, or by its table where there is
only one of it.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from typing import Any

import tomli

from ..words.orders import Orders
from .entries import Kinds
from .load import read_tree

# Giving one of these takes the others' place.
EITHER = {"drag": ("false_alarms", "margin", "radius")}
_NOT_SLUG = re.compile(r"[^a-z0-9]+")


class BadKey(Exception):
    """The key or value cannot be; one clear line."""


def find_rule(orders: Orders, key: str) -> tuple[str, tuple[str, ...]]:
    """'drag.margin' -> (name of the rule, ('margin',)). Raises BadKey."""
    by_name: dict[str, list[str]] = {}
    for rule in orders.rules:
        for word in {rule.name, _slug(rule.name), rule.table}:
            by_name.setdefault(word, []).append(rule.name)
    # A name may hold dots, so the longest beginning that is a rule counts.
    parts = key.split(".")
    for cut in range(len(parts) - 1, 0, -1):
        named = by_name.get(".".join(parts[:cut]))
        if named is None:
            continue
        if len(named) > 1:
            raise BadKey(f"{key}: there are {len(named)} rules of that kind; name one of them: "
                         + ", ".join(_slug(n) for n in named))  # fmt: skip
        return named[0], tuple(parts[cut:])
    known = ", ".join(_slug(rule.name) for rule in orders.rules)
    raise BadKey(f"{key}: expected RULE.KEY with a rule of these orders: {known}")


def with_value(orders: Orders, key: str, value: str | float, kinds: Kinds) -> Orders:
    """The same orders with this key at this value. Raises BadKey with every problem."""
    name, path = find_rule(orders, key)
    tree = copy.deepcopy(tomli.loads(orders.text))
    table, holder = _table_of(orders, tree, name)
    for other in EITHER.get(table, ()) if path[0] in EITHER.get(table, ()) else ():
        holder.pop(other, None)
    for part in path[:-1]:
        inner = holder.setdefault(part, {})
        if not isinstance(inner, dict):
            raise BadKey(f"{key}: {part} is no table")
        holder = inner
    holder[path[-1]] = value
    changed, problems, _ = read_tree(tree, orders.text, orders.path, kinds)
    if changed is None:
        lines = [f"{key} = {value}: {p.where}: {p.key}: {p.expected}" for p in problems]
        raise BadKey("\n".join(lines))
    return changed


def _table_of(orders: Orders, tree: dict[str, Any], name: str) -> tuple[str, dict[str, Any]]:
    rule = next(rule for rule in orders.rules if rule.name == name)
    written = tree.get(rule.table)
    if written is None:  # it stands without being written: [distress], [feed]
        return rule.table, tree.setdefault(rule.table, {})
    rows: list[Mapping[str, Any]] = written if isinstance(written, list) else [written]
    same = [r for r in orders.rules if r.table == rule.table]
    row = rows[same.index(rule)] if len(rows) == len(same) else rows[0]
    assert isinstance(row, dict)
    return rule.table, row


def _slug(name: str) -> str:
    return _NOT_SLUG.sub("-", name.casefold()).strip("-") or "rule"
