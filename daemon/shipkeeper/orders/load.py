"""The orders file as a whole: every table to its kind, then the cross-checks.

Kinds of rules, inputs and outlets are handed in, so that this package knows none of them.
A faulty file gives every problem at once and no orders; a good one may still give warnings:
what is missing in it and what that costs.
"""

from __future__ import annotations

import stat
from collections.abc import Sequence
from pathlib import Path
from typing import Any, TypeVar

import msgspec
import tomli

from ..words.orders import (
    CallListEntry,
    InputTable,
    Orders,
    OutletTable,
    Recorder,
    RuleOrders,
    Table,
    Vessel,
)
from .convert import build, fields_of
from .lines import Lines
from .problems import BadOrders, Problem, did_you_mean

T = TypeVar("T", bound=Table)
MAX_ESCALATION_S = 300.0  # at most five minutes to the next call (IEC 62923-1, from memory)
IMPLICIT = ("distress", "feed")  # these stand without being written down


class Kinds(msgspec.Struct, frozen=True):
    """The registries: which structs there are for [[zone]], [[input]], [[outlet]] ..."""

    rules: Sequence[type[RuleOrders]]
    inputs: Sequence[type[InputTable]]
    outlets: Sequence[type[OutletTable]]


def load(path: Path, kinds: Kinds) -> Orders:
    """Typed orders, or BadOrders with every problem."""
    orders, problems, _ = read_file(path, kinds)
    if orders is None:
        raise BadOrders(str(path), problems)
    return orders


def read_file(path: Path, kinds: Kinds) -> tuple[Orders | None, list[Problem], list[Problem]]:
    try:
        text = path.read_text(encoding="utf-8")
    except OSError as error:
        return None, [Problem(1, "orders file", "", f"cannot be read: {error.strerror}")], []
    except UnicodeDecodeError:
        return None, [Problem(1, "orders file", "", "is not UTF-8 text")], []
    return read(text, str(path), kinds)


def read(text: str, path: str, kinds: Kinds) -> tuple[Orders | None, list[Problem], list[Problem]]:
    """(orders or None, problems, warnings)."""
    try:
        tree = tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        line = getattr(error, "lineno", None) or _line_in(str(error)) or 1
        reason = str(error).partition(" (at ")[0]
        return None, [Problem(line, "TOML", "", f"{reason[0].lower()}{reason[1:]}")], []
    reader = _Reader(tree, text, kinds)
    orders = reader.orders(path, text)
    if reader.problems:
        return None, sorted(reader.problems, key=lambda p: p.line), reader.warnings
    return orders, [], reader.warnings


class _Reader:
    """One reading of one file."""

    def __init__(self, tree: dict[str, Any], text: str, kinds: Kinds) -> None:
        self.tree = tree
        self.lines = Lines(text)
        self.kinds = kinds
        self.problems: list[Problem] = []
        self.warnings: list[Problem] = []
        self._at: dict[int, tuple[str, int, str]] = {}  # id(struct) -> table, index, where

    def orders(self, path: str, text: str) -> Orders | None:
        self._unknown_tables()
        vessel = self._single(Vessel)
        rules: list[RuleOrders] = []
        for kind in self.kinds.rules:
            if kind.many:
                rules += self._array(kind.table, [kind])
            else:
                one = self._single(kind)
                if one is not None:
                    rules.append(one)
        inputs = self._array("input", self.kinds.inputs)
        outlets = self._array("outlet", self.kinds.outlets)
        call_list = self._array("call_list", [CallListEntry])
        recorder = self._single(Recorder)
        self._names("input", inputs)
        self._names("outlet", outlets)
        self._rule_names(rules)
        self._calls(rules, outlets, call_list)
        self._secrets(outlets)
        written = [r for r in rules if r.table in self.tree]
        if not any(r.table not in IMPLICIT for r in written) and not self.problems:
            self.problems.append(
                Problem(
                    1, "orders", "", "nothing to watch for: write a zone, proximity or drag rule"
                )
            )
        if vessel is None or self.problems:
            return None
        self._costs(vessel, rules, inputs, outlets)
        return Orders(
            vessel=vessel,
            rules=tuple(rules),
            inputs=tuple(inputs),
            outlets=tuple(outlets),
            call_list=tuple(call_list),
            recorder=recorder,
            path=path,
            text=text,
        )

    # -- tables ----------------------------------------------------------------------------

    def _unknown_tables(self) -> None:
        known = {"vessel", "input", "outlet", "call_list", "recorder"}
        known |= {kind.table for kind in self.kinds.rules}
        for name in self.tree:
            if name not in known:
                self.problems.append(
                    Problem(
                        self.lines.key("", 0, name) if not isinstance(self.tree[name], dict | list)
                        else self.lines.table(name),
                        f"[{name}]",
                        "",
                        f"unknown table{did_you_mean(name, known)}",
                    )
                )  # fmt: skip

    def _single(self, kind: type[T]) -> T | None:
        """A [table]: built from what is written; implicit ones from nothing."""
        raw = self.tree.get(kind.table)
        if raw is None:
            if kind.table in IMPLICIT:
                return kind()
            if kind.table == "vessel":
                self.problems.append(
                    Problem(1, "[vessel]", "", "is missing; name, length and beam are required")
                )
            return None
        if not isinstance(raw, dict):
            self.problems.append(
                Problem(
                    self.lines.table(kind.table),
                    f"[{kind.table}]",
                    "",
                    f"there is only one: write [{kind.table}], not [[{kind.table}]]",
                )
            )
            return None
        return self._build(kind, raw, kind.table, 0)

    def _array(self, table: str, kinds: Sequence[type[T]]) -> list[T]:
        raw = self.tree.get(table, [])
        if isinstance(raw, dict):
            self.problems.append(
                Problem(
                    self.lines.table(table),
                    f"[{table}]",
                    "",
                    f"there may be several: write [[{table}]], with double brackets",
                )
            )
            return []
        built = []
        for index, item in enumerate(raw if isinstance(raw, list) else []):
            if not isinstance(item, dict):
                continue
            kind = kinds[0] if len(kinds) == 1 else self._which(table, index, item, kinds)
            struct = self._build(kind, item, table, index) if kind is not None else None
            if struct is not None:
                built.append(struct)
        return built

    def _which(
        self, table: str, index: int, item: dict[str, Any], kinds: Sequence[type[T]]
    ) -> type[T] | None:
        """The kind whose own key the table has: `tcp`, `serial`, `push` ..."""
        own = {key_of(kind): kind for kind in kinds}
        found = [key for key in own if key in item]
        if len(found) == 1:
            return own[found[0]]
        words = ", ".join(own)
        expected = f"expected exactly one of {words}; found {', '.join(found) or 'none'}"
        near = [did_you_mean(key, own) for key in item if key not in ("name", "expect")]
        hint = next((text for text in near if "?" in text), "") if not found else ""
        self.problems.append(
            Problem(self.lines.table(table, index), _where(table, item), "", expected + hint)
        )
        return None

    def _build(self, kind: type[T], raw: dict[str, Any], table: str, index: int) -> T | None:
        where = _where(table, raw)

        def complain(key: str, expected: str) -> None:
            line = self.lines.key(table, index, key)
            self.problems.append(Problem(line, where, key, expected))

        struct = build(kind, raw, complain)
        if struct is None:
            return None
        self._at[id(struct)] = (table, index, where)
        for key, expected in struct.problems():
            complain(key, expected)
        return struct

    def _complain(self, struct: Table, key: str, expected: str, warn: bool = False) -> None:
        table, index, where = self._at.get(id(struct), (struct.table, 0, f"[{struct.table}]"))
        found = Problem(self.lines.key(table, index, key), where, key, expected)
        (self.warnings if warn else self.problems).append(found)

    # -- cross-checks ----------------------------------------------------------------------

    def _names(self, what: str, tables: Sequence[InputTable] | Sequence[OutletTable]) -> None:
        seen: set[str] = set()
        for table in tables:
            if table.name in seen:
                self._complain(table, "name", f"two {what}s have this name; names must differ")
            seen.add(table.name)

    def _rule_names(self, rules: Sequence[RuleOrders]) -> None:
        seen: dict[str, RuleOrders] = {}
        for rule in rules:
            folded = rule.name.casefold()
            if folded in seen:
                self._complain(
                    rule, "name", f'two rules are called "{rule.name}"; names must differ'
                )
            seen[folded] = rule
            if rule.priority in ("alarm", "emergency alarm") and not (
                rule.consequence and rule.response
            ):
                missing = "consequence" if not rule.consequence else "response"
                self._complain(
                    rule,
                    missing,
                    "an alarm should say what happens if nobody acts, and what to do",
                    warn=True,
                )

    def _calls(
        self,
        rules: Sequence[RuleOrders],
        outlets: Sequence[OutletTable],
        call_list: Sequence[CallListEntry],
    ) -> None:
        raw = self.tree.get("outlet", [])
        names = {str(o.get("name")) for o in raw if isinstance(o, dict)} | {o.name for o in outlets}
        for table in (*rules, *call_list):
            for name in table.call or ():  # type: ignore[attr-defined]  # both kinds have call
                if name not in names:
                    self._complain(table, "call", f'no outlet "{name}"{did_you_mean(name, names)}')
        for entry in call_list:
            if entry.after_s > MAX_ESCALATION_S:
                self._complain(entry, "after", "at most 5 min: nobody must wait longer for a call")
            if not entry.call:
                self._complain(entry, "call", "names nobody; expected a list of outlets")

    def _secrets(self, outlets: Sequence[OutletTable]) -> None:
        """A file with a secret must not be readable by all the world."""
        for outlet in outlets:
            for key, text in getattr(outlet, "secret_files", dict)().items():
                if text.startswith("credential:"):
                    continue
                path = Path(text)
                if "://" in text:
                    self._complain(
                        outlet,
                        key,
                        "a secret does not stand in the orders: give credential:NAME or a path",
                    )
                elif path.exists() and path.stat().st_mode & stat.S_IROTH:
                    self._complain(outlet, key, f"{path} can be read by everyone; chmod 600 it")

    def _costs(
        self,
        vessel: Vessel,
        rules: Sequence[RuleOrders],
        inputs: Sequence[InputTable],
        outlets: Sequence[OutletTable],
    ) -> None:
        """Warnings: what is missing and what that costs."""
        drag = next((r for r in rules if r.table == "drag"), None)
        radius = getattr(drag, "radius_m", None)
        costs = []
        if drag is not None and radius is None:
            if vessel.antenna is None:
                costs.append(("antenna", "the boat's whole length must be allowed for"))
            if vessel.bow_height_m is None:
                costs.append(("bow_height", "the reach of the rode is taken a little long"))
            if vessel.rode is None:
                costs.append(("rode", "the rode is taken as chain of a size fit for the length"))
        if vessel.mmsi == 0 and any(r.table in ("zone", "proximity") for r in rules):
            costs.append(("mmsi", "an own AIS transponder heard as a target cannot be told apart"))
        keels = [r for r in rules if getattr(r, "reference", "") == "keel"]
        if keels and vessel.draught_m is None:
            costs.append(("draught", f'"{keels[0].name}" cannot be judged from the keel'))
        for key, cost in costs:
            self._complain(vessel, key, f"not given: {cost}", warn=True)
        if inputs and not any("position" in table.expect for table in inputs):
            self.warnings.append(
                Problem(1, "inputs", "expect", "none is expected to bring a position")
            )
        if inputs and not outlets:
            self.warnings.append(Problem(1, "outlets", "", "nobody would be called: no outlet"))


def key_of(kind: type[Table]) -> str:
    """The key that names a kind of input or outlet: its first own required field."""
    base = {field.key for field in fields_of(InputTable)} | {
        field.key for field in fields_of(OutletTable)
    }
    return next(f.key for f in fields_of(kind) if f.key not in base and f.required)


def _where(table: str, raw: dict[str, Any]) -> str:
    name = raw.get("name")
    return f'{table} "{name}"' if isinstance(name, str) else f"[{table}]"


def _line_in(text: str) -> int | None:
    _, _, tail = text.partition("at line ")
    digits = tail.partition(",")[0]
    return int(digits) if digits.isdigit() else None
