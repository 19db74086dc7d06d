"""Warnings and notes: what is missing in good orders, and what that costs.

A warning is for the person who writes the orders: something is worth less than it looks. A
note tells what was taken instead, where nothing is lost by it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import msgspec

from ..words.orders import Orders, OutletTable, RuleOrders
from .cross import PRIORITIES
from .lines import Path
from .problems import Weight


class Remark(msgspec.Struct, frozen=True):
    """A warning or note at a path of the file; `expected` is the text."""

    path: Path
    expected: str
    weight: Weight = "warning"


class _Cost(msgspec.Struct, frozen=True):
    """A key of [vessel]: what its absence costs, and whether any of these orders feels it."""

    key: str
    text: str
    is_felt: Callable[[Sequence[RuleOrders]], bool]


def _by_reach(rules: Sequence[RuleOrders]) -> bool:
    """Drag by rode and depth; with `radius` outright the boat need not be known."""
    return any(r.table == "drag" and getattr(r, "radius_m", None) is None for r in rules)


def _by_target(rules: Sequence[RuleOrders]) -> bool:
    return any(r.table in ("zone", "proximity") for r in rules)


def _by_keel(*references: str) -> Callable[[Sequence[RuleOrders]], bool]:
    return lambda rules: any(getattr(r, "reference", "") in references for r in rules)


COSTS = (
    _Cost("mmsi", "your own AIS signal may be taken for a target close by; write 0 if you have "
          "no transponder", _by_target),
    _Cost("antenna", "the antenna may be anywhere in the boat, so her whole length is added to "
          "the swing circle and hull ranges are as much coarser",
          lambda rules: _by_reach(rules) or _by_target(rules)),
    _Cost("bow_height", "the bow roller is taken to be at the water, so the swing circle comes "
          "out a little large and a drag is called a little late", _by_reach),
    _Cost("rode", "all chain is assumed; with rope the boat sails about more than reckoned",
          _by_reach),
    _Cost("transducer_depth", "depth below the waterline or the keel is known only if the "
          "sounder itself sends its offset", _by_keel("keel", "waterline")),
    _Cost("draught", "depth below the keel is known only if the sounder itself sends its offset",
          _by_keel("keel")),
)  # fmt: skip


def remarks(orders: Orders, tree: Mapping[str, Any], paths: Mapping[int, Path]) -> list[Remark]:
    """All warnings and notes. `paths`: id of a rule's struct -> its place in the file."""
    rules = [rule for rule in orders.rules if rule.priority != "none"]
    said = _of_vessel(rules, tree.get("vessel", {}))
    for rule in orders.rules:
        said += _of_rule(rule, paths.get(id(rule), (rule.table,)), orders.outlets)
    return said + _of_wires(orders)


def _of_vessel(rules: Sequence[RuleOrders], given: Mapping[str, Any]) -> list[Remark]:
    missing = [cost for cost in COSTS if cost.key not in given]
    said = [
        Remark(("vessel", cost.key), f"not given: {cost.text}")
        for cost in missing
        if cost.is_felt(rules)
    ]
    spared = [cost.key for cost in missing if not cost.is_felt(rules)]
    if spared:
        text = f"not given, and not needed by these rules: {', '.join(spared)}"
        said.append(Remark(("vessel",), text, "note"))
    if "chain_size" not in given and _by_reach(rules):
        text = "not given; reckoned from the length of the boat"
        said.append(Remark(("vessel", "chain_size"), text, "note"))
    return said


def _of_rule(rule: RuleOrders, path: Path, outlets: Sequence[OutletTable]) -> list[Remark]:
    if rule.priority == "none":
        return [Remark((*path, "priority"), "switched off: this rule watches nothing")]
    said = []
    rank = PRIORITIES.index(rule.priority)
    for outlet in outlets:
        least = outlet.from_priority
        if outlet.name in (rule.call or ()) and PRIORITIES.index(least) > rank:
            text = (
                f'calls "{outlet.name}", who takes nothing below {least}: a {rule.priority} '
                "does not get there"
            )
            said.append(Remark((*path, "call"), text))
    if rank >= PRIORITIES.index("alarm") and not (rule.consequence and rule.response):
        lacking = "consequence" if not rule.consequence else "response"
        text = "not given: an alarm should say what happens if nobody acts, and what to do"
        said.append(Remark((*path, lacking), text, "note"))
    return said


def _of_wires(orders: Orders) -> list[Remark]:
    if not orders.inputs and not orders.outlets:
        text = "neither inputs nor outlets: good for a rehearsal, but not for a watch"
        return [Remark((), text, "note")]
    said = []
    if not orders.outlets:
        said.append(Remark(("outlet",), "no [[outlet]]: nobody would be called"))
    if not orders.inputs:
        said.append(Remark(("input",), "no [[input]]: the watch would hear nothing"))
    elif not any("position" in table.expect for table in orders.inputs):
        text = 'no input is expected to bring a position; write expect = ["position"] at one'
        said.append(Remark(("input",), text))
    if orders.outlets and not orders.call_list:
        text = "no [[call_list]]: when nobody acknowledges, nobody else is called"
        said.append(Remark(("call_list",), text, "note"))
    return said
