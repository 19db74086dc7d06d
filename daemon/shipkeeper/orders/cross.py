"""Checks over the whole file: names, who is called, what may not be switched off."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from ..words.orders import WATCHES
from .convert import Fault, Faults
from .entries import Entry, key_of, where
from .problems import near, shown

# At most five minutes to the next call: IEC 62923-1, escalation of an unacknowledged alert
# (from memory; the figure is our house rule as well).
MAX_ESCALATION_S = 300.0
MAX_NAME = 60
RESERVED = ("self",)  # alerts about the watch itself have this for a rule
PRIORITIES = ("caution", "warning", "alarm", "emergency alarm")


def cross_check(entries: Sequence[Entry], rule_tables: Iterable[str], faults: Faults) -> None:
    """Add what is wrong between the tables, faulty ones included as far as they can be read."""
    tables = frozenset(rule_tables)
    rules = [entry for entry in entries if entry.table in tables]
    inputs = [entry for entry in entries if entry.table == "input"]
    outlets = [entry for entry in entries if entry.table == "outlet"]
    for group, word in ((rules, "rule"), (inputs, "input"), (outlets, "outlet")):
        _names(group, word, faults)
    _addresses(inputs, faults)
    names = [str(entry.said("name", "name")) for entry in outlets]
    for entry in entries:
        if entry.table in tables or entry.table == "call_list":
            _called(entry, names, faults)
    for rule in rules:
        _stands(rule, faults)
    for entry in entries:
        if entry.table == "call_list" and entry.made and entry.made.after_s > MAX_ESCALATION_S:
            text = "expected at most 5 min: nobody may be left uncalled longer than that"
            faults.append(Fault((*entry.path, "after"), text, shown((entry.raw or {})["after"])))
    if not any(rule.raw is not None for rule in rules):
        faults.append(
            Fault((), "nothing to watch for; expected a [[zone]], a [[proximity]], a [drag] ...")
        )


def folded(name: str) -> str:
    """What a person types for it: alerts are told apart by these letters and figures alone."""
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")


def _names(group: Sequence[Entry], word: str, faults: Faults) -> None:
    seen: dict[str, Entry] = {}
    # Single tables have their names by themselves: it is the others that have to give way.
    for entry in sorted(group, key=lambda e: len(e.path)):
        name = entry.said("name", "name")
        if not isinstance(name, str):
            continue
        path = (*entry.path, "name")
        if not folded(name) or len(name) > MAX_NAME:
            text = f"expected a name of up to {MAX_NAME} characters, some of them a to z or 0 to 9"
            faults.append(Fault(path, text, shown(name)))
            continue
        if word == "rule" and (folded(name) in RESERVED or folded(name).isdigit()):
            why = "alerts have numbers as well" if folded(name).isdigit() else "the watch's own"
            text = f"expected another name: alerts go by it, and this one is taken ({why})"
            faults.append(Fault(path, text, shown(name)))
            continue
        other = seen.setdefault(folded(name), entry)
        if other is not entry:
            text = f"expected a name of its own; {_place(other)} has this one"
            faults.append(Fault(path, text, shown(name)))


def _place(entry: Entry) -> str:
    """'zone no. 2', '[feed]': a table without its name."""
    return where(entry.path, {})


def _addresses(inputs: Sequence[Entry], faults: Faults) -> None:
    seen: dict[tuple[str, str], Entry] = {}
    for entry in inputs:
        if entry.made is None or entry.raw is None:
            continue
        key = key_of(type(entry.made))
        other = seen.setdefault((key, repr(entry.raw[key])), entry)
        if other is not entry:
            text = f"expected a wire of its own; {_place(other)} reads this one"
            faults.append(Fault((*entry.path, key), text, shown(entry.raw[key])))


def _called(entry: Entry, names: Sequence[str], faults: Faults) -> None:
    call = entry.said("call", "call")
    path = (*entry.path, "call")
    if call is None or not isinstance(call, list | tuple):
        return
    if not call and entry.made is not None:
        hint = "" if entry.table == "call_list" else "; leave the key out to call all"
        faults.append(Fault(path, f"expected at least one outlet{hint}", "nobody"))
    for index, name in enumerate(call):
        if isinstance(name, str) and name not in names:
            meant = near(name, names)
            there = ", ".join(shown(n) for n in names) or "none in this file"
            hint = f'Did you mean "{meant}"?' if meant else f"Outlets: {there}"
            if not names:
                continue  # orders for a rehearsal need no outlets
            if entry.table == "call_list" and not meant:
                continue  # somebody who has no outlet yet: load.py warns of it
            faults.append(
                Fault((*path, index), "expected the name of an outlet", f"{shown(name)}. {hint}")
            )


def _stands(rule: Entry, faults: Faults) -> None:
    """A rule that stands nowhere watches nothing; the feed rule stands everywhere."""
    watches = rule.said("watches", "watches")
    if rule.made is None or rule.raw is None:
        return
    path = (*rule.path, "watches")
    if not watches:
        faults.append(Fault(path, f"expected one or more of {', '.join(WATCHES)}", "none"))
    elif rule.table == "feed" and set(watches) != set(WATCHES):
        text = "the feed rule stands in every watch; leave the key out"
        faults.append(Fault(path, text, ", ".join(watches)))
