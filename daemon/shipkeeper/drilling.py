"""The engine's part of a drill: its beginning and its end, as commands of the daemon itself.

The hazard comes in by the wire like any other (rules/drill.py); here is journalled who asked,
and the report that was made of it. Only the daemon's own driller may say these.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from .rules.drill import Drill
from .words.alert import Priority, State
from .words.drill import THROUGH
from .words.events import Command

if TYPE_CHECKING:
    from .engine import Engine

Answer = tuple[int, str, dict[str, Any]]
REFUSED = 2
UNANSWERED = (State.UNACKNOWLEDGED, State.SILENCED)


def begin(engine: Engine, command: Command) -> Answer:
    """May there be a drill now? Notes it, and which outlets it is for."""
    rule = _rule(engine)
    if command.through != THROUGH:
        return REFUSED, "a drill is begun by: shipkeeper drill", {}
    if rule is None:
        return REFUSED, 'the orders say [drill] priority = "none"', {}
    if engine.watch.watch == "off":
        return REFUSED, "no watch is set: set one, then drill what would call you in it", {}
    standing = [
        r
        for r in engine.records()
        if not r.drill and r.state in UNANSWERED and r.priority > Priority.CAUTION
    ]
    if standing:
        names = ", ".join(r.id for r in standing)
        return REFUSED, f"not now, something real is unanswered: {names}", {}
    outlets = [table.name for table in engine.orders.outlets]
    only = command.args.get("outlet")
    if only is not None and only not in outlets:
        return REFUSED, f'no outlet "{only}"; there are: {", ".join(outlets) or "none"}', {}
    rule.only = None if only is None else (str(only),)
    what = "the whole chain" if only is None else f"outlet {only}"
    engine.note("drill", f"drill of {what} begins", who=command.who)
    return 0, f"drill of {what}", {}


def end(engine: Engine, command: Command) -> Answer:
    """It is over: the report is kept, and a good drill of the whole chain counts."""
    rule = _rule(engine)
    if command.through != THROUGH or rule is None:
        return REFUSED, "a drill ends by itself, or by: shipkeeper ack drill", {}
    good, whole = command.args.get("good") is True, rule.only is None
    rule.only = None
    utc_s = engine.utc_s(command.at_s)
    engine.board.end_drill(command.at_s, "THE DRILL IS OVER")
    if good and whole and utc_s is not None:
        rule.passed(utc_s)
    engine.note("drill", "drill passed" if good else "drill failed", **command.args)
    return 0, "drill passed" if good else "drill failed", {}


def _rule(engine: Engine) -> Drill | None:
    for armed in engine.armed:
        if isinstance(armed.rule, Drill):
            return armed.rule
    return None
