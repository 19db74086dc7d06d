"""Expectations: at this time, this alert, in this state; a technician's tests of the orders.

    [[expect]]
    at = "2026-06-12T03:10:00Z"      # or from = ... and to = ...
    within = "60 s"                  # it may be so this much earlier or later
    alert = "drag"                   # an id, or a pattern such as "guard-zone:*"
    state = "active-unacknowledged"  # or "raised" (any active state), "not raised", "unknown"

With `at` the state must be there at some moment of the span; with `from` and `to` it must be
there at some moment of it too, but "not raised" and "normal" must hold all through.
"""

from __future__ import annotations

import fnmatch
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import msgspec
import tomli

from ..words.alert import State
from ..words.timing import utc_text
from ..words.units import UnitError, parse_quantity
from .occurrences import ACTIVE
from .told import Outcome, Told

STATES = ("raised", "not raised", *(state.value for state in State))
ALL_THROUGH = ("not raised", "normal")
KEYS = ("at", "from", "to", "within", "alert", "state", "why")


class BadExpectations(Exception):
    """Every problem of the file, one a line."""


class Expectation(msgspec.Struct, frozen=True, kw_only=True):
    """One entry of the file."""

    number: int  # from 1, as in the file
    from_s: float
    to_s: float
    alert: str
    state: str
    why: str = ""

    def told(self) -> str:
        when = utc_text(self.from_s)[:19] + "Z"
        if self.to_s > self.from_s:
            when += f" to {utc_text(self.to_s)[11:19]}Z"
        return f"{when} {self.alert}: {self.state}"

    @property
    def real(self) -> bool:
        """It says that something truly was so."""
        return self.state not in (*ALL_THROUGH, "unknown")


class Kept(msgspec.Struct, frozen=True, kw_only=True):
    """Whether it was as expected, and what was instead."""

    expectation: Expectation
    kept: bool
    was: str


def read_expectations(path: Path) -> list[Expectation]:
    """Raises BadExpectations with every problem: file, entry, key, what was expected."""
    try:
        tree = tomli.loads(path.read_text("utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "not UTF-8 text"
        raise BadExpectations(f"{path}: cannot be read: {reason}") from None
    except tomli.TOMLDecodeError as error:
        raise BadExpectations(f"{path}: expected TOML: {error}") from None
    rows = tree.pop("expect", None)
    problems = [f"{path}: {key}: expected only [[expect]] tables" for key in tree]
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        problems.append(f"{path}: expected at least one [[expect]] table")
        rows = []
    found = []
    for number, row in enumerate(rows, 1):
        faults: list[str] = []
        one = _entry(number, row, faults)
        problems += [f"{path}: expect {number}: {fault}" for fault in faults]
        if one is not None:
            found.append(one)
    if problems:
        raise BadExpectations("\n".join(problems))
    return found


def _entry(number: int, row: dict[str, Any], faults: list[str]) -> Expectation | None:
    faults += [f"{key}: unknown key; expected {', '.join(KEYS)}" for key in row if key not in KEYS]
    alert, state = row.get("alert"), row.get("state")
    if not isinstance(alert, str) or not alert:
        faults.append('alert: expected an id such as "drag" or a pattern "guard-zone:*"')
    if state not in STATES:
        faults.append(f"state: expected one of {', '.join(STATES)}")
    slack_s = 0.0
    if "within" in row:
        try:
            slack_s = parse_quantity(row["within"], "time")
        except UnitError as error:
            faults.append(f"within: {error}")
    if ("at" in row) == ("from" in row or "to" in row):
        faults.append("at: expected either `at`, or both `from` and `to`")
        return None
    names = ("at", "at") if "at" in row else ("from", "to")
    times = [_time(row.get(name)) for name in names]
    for name, time_s in zip(names, times, strict=True):
        if time_s is None:
            faults.append(f"{name}: expected a UTC time such as 2026-06-12T03:10:00Z")
    from_s, to_s = times
    if from_s is not None and to_s is not None and to_s < from_s:
        faults.append("to: expected a time after `from`")
    if faults or from_s is None or to_s is None:
        return None
    return Expectation(
        number=number, from_s=from_s - slack_s, to_s=to_s + slack_s, alert=str(alert),
        state=str(state), why=str(row.get("why", "")),
    )  # fmt: skip


def _time(value: object) -> float | None:
    if isinstance(value, str):
        try:
            value = datetime.fromisoformat(value)
        except ValueError:
            return None
    if not isinstance(value, datetime):
        return None
    return (value if value.tzinfo else value.replace(tzinfo=UTC)).timestamp()


def check(expectations: Sequence[Expectation], outcomes: Sequence[Outcome]) -> list[Kept]:
    """Each expectation against what the rehearsal gave."""
    return [_check(one, outcomes) for one in expectations]


def _check(one: Expectation, outcomes: Sequence[Outcome]) -> Kept:
    inside = [o for o in outcomes if o.first_s <= one.to_s and o.last_s >= one.from_s]
    if not inside:
        return Kept(expectation=one, kept=False, was="no recording covers this time")
    seen: dict[str, list[str]] = {}
    for outcome in inside:
        for alert, states in states_within(outcome.told, one.from_s, one.to_s).items():
            if fnmatch.fnmatchcase(alert, one.alert):
                seen.setdefault(alert, []).extend(states)
    was = "; ".join(f"{alert}: {', then '.join(states)}" for alert, states in seen.items())
    states = [state for found in seen.values() for state in found]
    if one.state == "normal":
        kept = all(s == "normal" for s in states)
    elif one.state == "not raised":
        kept = all(s not in ACTIVE for s in states)
    else:
        kept = any(s in ACTIVE if one.state == "raised" else s == one.state for s in states)
    return Kept(expectation=one, kept=kept, was=was or "never told of: normal")


def states_within(told: Sequence[Told], from_s: float, to_s: float) -> dict[str, list[str]]:
    """The states of each alert in that span: the one it began with, and each that followed."""
    states: dict[str, list[str]] = {}
    for one in told:
        line = one.transition
        if one.at_s > to_s:
            states.setdefault(line.alert, [line.from_])
        elif one.at_s <= from_s:
            states[line.alert] = [line.to]
        else:
            states.setdefault(line.alert, [line.from_]).append(line.to)
    return states
