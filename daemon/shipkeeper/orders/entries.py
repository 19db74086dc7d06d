"""The tables of an orders file, each taken to its kind: what stood there and what it made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import msgspec

from ..words.orders import (
    CallListEntry,
    InputTable,
    OutletTable,
    Recorder,
    RuleOrders,
    Table,
    Vessel,
)
from .convert import FAULTY, Fault, Faults
from .lines import Path
from .problems import near, shown
from .tables import build
from .words_for import fields_of

IMPLIED = ("distress", "drill", "feed")  # these stand without being written down


class Kinds(msgspec.Struct, frozen=True):
    """The registries: which structs there are for [[zone]], [[input]], [[outlet]] ...

    `extra`: further single tables, that are no rules; they come out in Orders.extra.
    """

    rules: Sequence[type[RuleOrders]]
    inputs: Sequence[type[InputTable]]
    outlets: Sequence[type[OutletTable]]
    extra: Sequence[type[Table]] = ()

    def by_table(self) -> dict[str, Sequence[type[Table]]]:
        """Table name -> the kinds that may stand under it, in the order of reading."""
        rules: dict[str, Sequence[type[Table]]] = {kind.table: (kind,) for kind in self.rules}
        extra: dict[str, Sequence[type[Table]]] = {kind.table: (kind,) for kind in self.extra}
        return {
            "vessel": (Vessel,),
            **rules,
            "input": self.inputs,
            "outlet": self.outlets,
            "call_list": (CallListEntry,),
            "recorder": (Recorder,),
            **extra,
        }


class Entry(msgspec.Struct, frozen=True):
    """One table of the file, or an implied one (`raw` None). `made`: None when faulty."""

    table: str
    path: Path
    where: str
    raw: Mapping[str, Any] | None
    made: Any

    def said(self, key: str, name: str) -> Any:
        """A value by key: as made, or as it stands in the file when the table is faulty."""
        return getattr(self.made, name) if self.made is not None else (self.raw or {}).get(key)


def entries(tree: Mapping[str, Any], kinds: Kinds, faults: Faults) -> list[Entry]:
    """Every table of the file; what is wrong with them is added to the faults."""
    known = kinds.by_table()
    for name in tree:
        if name not in known:
            free = [t for t, k in known.items() if t not in tree or (k and k[0].many)]
            meant = near(name, free)
            hint = f". Did you mean [{meant}]?" if meant else f"; expected one of {_list(known)}"
            word = "table" if isinstance(tree[name], dict | list) else "key outside any table"
            faults.append(Fault((name,), f"unknown {word}{hint}"))
    found: list[Entry] = []
    for table, candidates in known.items():
        many = candidates[0].many if candidates else True
        if table in tree:
            found += _written(table, tree[table], candidates, many, faults)
        elif table in IMPLIED:
            found.append(Entry(table, (table,), f"[{table}]", None, candidates[0]()))
        elif table == "vessel":
            faults.append(Fault((table,), "is missing; expected name, length and beam in it"))
    return found


def key_of(kind: type[Table]) -> str:
    """The key that names a kind of input or outlet: its `kind`, or its first own field."""
    named = getattr(kind, "kind", None)
    if isinstance(named, str):
        return named
    base = {f.key for f in fields_of(InputTable)} | {f.key for f in fields_of(OutletTable)}
    return next(f.key for f in fields_of(kind) if f.key not in base)


def where(path: Path, raw: Mapping[str, Any]) -> str:
    """A table as a person finds it: 'zone "inner"', 'zone no. 2', '[drag]'."""
    name = raw.get("name")
    if isinstance(name, str) and name and path[0] != "vessel":
        return f"{path[0]} {shown(name)}"
    if len(path) > 1 and isinstance(path[1], int):
        return f"{path[0]} no. {path[1] + 1}"
    return f"[{path[0]}]"


def _written(
    table: str, raw: Any, candidates: Sequence[type[Table]], many: bool, faults: Faults
) -> list[Entry]:
    double = isinstance(raw, list) and all(isinstance(item, dict) for item in raw)
    if not double and not isinstance(raw, dict):
        wanted = f"[[{table}]]" if many else f"[{table}]"
        faults.append(Fault((table,), f"expected a table {wanted}", shown(raw)))
        return []
    if double and not many and len(raw) != 1:
        faults.append(Fault((table, 1), f"expected only one [{table}]", f"{len(raw)}"))
    elif double and not many:
        faults.append(Fault((table,), f"expected [{table}], single brackets", f"[[{table}]]"))
    elif many and not double:
        faults.append(Fault((table,), f"expected [[{table}]], double brackets", f"[{table}]"))
    items = raw if double else [raw]
    if not many:
        items = items[:1]
    return [
        _entry(table, (table, index) if double else (table,), item, candidates, faults)
        for index, item in enumerate(items)
    ]


def _entry(
    table: str, path: Path, raw: Mapping[str, Any], candidates: Sequence[type[Table]],
    faults: Faults,
) -> Entry:  # fmt: skip
    kind = _which(path, raw, candidates, faults)
    made = FAULTY if kind is None else build(kind, raw, path, faults)
    return Entry(table, path, where(path, raw), raw, None if made is FAULTY else made)


def _which(
    path: Path, raw: Mapping[str, Any], candidates: Sequence[type[Table]], faults: Faults
) -> type[Table] | None:
    """The kind whose own key the table has: `tcp`, `serial`, `push` ..."""
    if len(candidates) == 1 and path[0] not in ("input", "outlet"):
        return candidates[0]
    own = {key_of(kind): kind for kind in candidates}
    found = [key for key in raw if key in own]
    if len(found) > 1:
        faults.append(Fault((*path, found[1]), "expected only one kind", " and ".join(found)))
        return None
    if found:
        return own[found[0]]
    for key in raw:
        meant = near(key, own)
        if meant is not None and key not in {f.key for kind in candidates for f in fields_of(kind)}:
            return own[meant]  # its keys are looked at; the slip is told there
    faults.append(Fault(path, f"expected one of {_list(own)}", _list(raw) or "none"))
    return None


def _list(keys: Mapping[str, Any]) -> str:
    return ", ".join(keys)
