"""`check --explain`: each rule with all its defaults and what it will do, in plain words."""

from __future__ import annotations

import typing
from collections.abc import Iterator
from typing import Any

import msgspec

from ..words.handling import Handling
from ..words.orders import WATCHES, Orders, Quantity, RuleOrders
from ..words.timing import duration_text
from ..words.units import quantity_text
from .words_for import fields_of, is_struct, mark_of, options


def explain(orders: Orders) -> list[str]:
    """Lines for a terminal: the boat, every rule, then who is called and by what."""
    lines = [f"{orders.vessel.name}: what these orders do", ""]
    for rule in orders.rules:
        lines += [*_rule(rule, orders), ""]
    lines += _calls(orders)
    for title, tables in (("Inputs", orders.inputs), ("Outlets", orders.outlets)):
        for table in tables:
            lines.append(f"{title[:-1]} {_toml(table.name)}")
            lines += [f"  {_sentence(said)}" for said in table.explain()]
            lines += [f"    {row}" for row in keys(table)]
    lines += ["", "[vessel]", *(f"    {row}" for row in keys(orders.vessel))]
    if orders.recorder is not None:
        lines += ["[recorder]", *(f"    {row}" for row in keys(orders.recorder))]
    for name, table in {"handling": Handling(), **orders.extra}.items():
        lines += [f"[{name}]", *(f"  {_sentence(said)}" for said in table.explain())]
        lines += [f"    {row}" for row in keys(table)]
    return lines


def keys(table: msgspec.Struct) -> Iterator[str]:
    """Every key as it would stand in the file: 'clear = "60 s"  (default)'."""
    left_out = {"call": "every outlet"} | dict(getattr(table, "left_out", {}))
    defaults = {f.encode_name: _default(f) for f in msgspec.structs.fields(table)}
    for field in fields_of(type(table)):
        value = getattr(table, field.name)
        mark = "  (default)" if value == defaults[field.key] else ""
        if value is None:
            yield f"{field.key}: {left_out.get(field.key, 'not set')}{mark}"
        else:
            yield f"{field.key} = {_as_file(field.kind, value)}{mark}"


def _rule(rule: RuleOrders, orders: Orders) -> list[str]:
    title = rule.table if rule.name == rule.table else f"{rule.table} {_toml(rule.name)}"
    if rule.priority == "none":
        return [f"{title}: switched off"]
    callers = ", ".join(rule.call) if rule.call is not None else "every outlet"
    if not orders.outlets:
        callers = "nobody: there are no outlets in this file"
    watches = "every watch" if set(rule.watches) == set(WATCHES) else ", ".join(rule.watches)
    lines = [f"{title}: {rule.priority}", *(f"  {_sentence(said)}" for said in rule.explain())]
    lines.append(f"  {_dwell(rule)}")
    lines.append(f"  Stands in: {watches}. Calls: {callers}.")
    if rule.latch:
        lines.append("  Stays on the list until a person acknowledges it, also when it is over.")
    if rule.consequence:
        lines.append(f"  If nobody acts: {_ended(rule.consequence)}")
    if rule.response:
        lines.append(f"  What to do: {_ended(rule.response)}")
    return [*lines, *(f"    {row}" for row in keys(rule))]


def _dwell(rule: RuleOrders) -> str:
    raised = (
        f"Raised when it has held for {duration_text(rule.held_s)}"
        if rule.held_s
        else "Raised at once"
    )
    cleared = (
        f"cleared when it has been gone for {duration_text(rule.clear_s)}"
        if rule.clear_s
        else "cleared as soon as it is gone"
    )
    return f"{raised}; {cleared}."


def _calls(orders: Orders) -> list[str]:
    lines = []
    for entry in orders.call_list:
        who = ", ".join(entry.call)
        lines.append(f"Nobody has acknowledged for {duration_text(entry.after_s)}: calls {who}.")
    return [*lines, ""] if lines else []


def _sentence(said: str) -> str:
    return _ended(said[:1].upper() + said[1:])


def _ended(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _default(field: Any) -> Any:
    if field.default_factory is not msgspec.NODEFAULT:
        return field.default_factory()
    return field.default


def _as_file(kind: Any, value: Any) -> str:
    """A value as TOML, quantities with their unit, by the annotation that fits it."""
    if isinstance(value, msgspec.Struct):
        pairs = (
            f"{f.key} = {_as_file(f.kind, getattr(value, f.name))}"
            for f in fields_of(type(value))
            if getattr(value, f.name) is not None
        )
        return "{ " + ", ".join(pairs) + " }"
    for choice in options(kind):
        mark = mark_of(choice)
        if isinstance(mark, Quantity) and isinstance(value, float):
            return f'"{quantity_text(value, mark.dimension)}"'
        inner = typing.get_args(choice)
        if isinstance(value, tuple | list) and inner and not is_struct(choice):
            kinds = [inner[0]] * len(value) if inner[-1] is Ellipsis else list(inner)
            if len(kinds) == len(value):
                return f"[{', '.join(map(_as_file, kinds, value))}]"
    return _toml(value)


def _toml(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.10g}"
    return msgspec.json.encode(value).decode() if isinstance(value, str) else str(value)
