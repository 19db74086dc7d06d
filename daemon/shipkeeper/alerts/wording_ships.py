"""What is said of other vessels: zones, close quarters, calls for help."""

from __future__ import annotations

import math
from typing import Any

from ..words.orders import RuleOrders
from ..words.timing import duration_text
from ..words.units import MAKING_WAY_MS
from .phrases import Facts, Words, as_fine_as, bears, clean, course, joined, knots, metres, position


def own_zone(orders: RuleOrders, f: Facts) -> Words:
    more = (f"Own hull: {f['assumed']}",) if f.get("assumed") else ()
    todo = "look where she is: lines, anchor, chart, depth"
    middle = f.get("middle_m")
    it = "" if middle is None else f"its middle {joined(metres(middle), bears(f))}"
    if f.get("event") == "left":
        out = f"{metres(f.get('range_m'))} outside"
        line = f'Own ship has left "{orders.name}": {joined(out, it)}'
        return Words("LEFT ZONE", line, more, todo)
    past = metres(f.get("past_m"))
    if f.get("shape") == "line":
        return Words("LINE CROSSED", f'Own ship is {past} past "{orders.name}"', more, todo)
    where = it or f"{past} past its edge"
    return Words("OWN SHIP IN ZONE", f'Own ship is in "{orders.name}": {where}', more, todo)


def _makes(f: Facts) -> str:
    how = ", as its places show" if f.get("reckoned") else ""
    at_rest = f["speed_ms"] < MAKING_WAY_MS  # she heads nowhere
    return f"Makes {knots(f['speed_ms'])}{'' if at_rest else course(f)}{how}"


def zone(orders: RuleOrders, f: Facts) -> Words:
    if f.get("own"):
        return own_zone(orders, f)
    name = clean(f.get("name", "A target"))
    left = f.get("event") == "left"
    verb = "has left" if left else "is in"
    how_far = f.get("range_m")
    where = "how far is not known" if how_far is None else joined(metres(how_far), bears(f))
    more = []
    if f.get("speed_ms") is not None:
        more.append(_makes(f))
    if f.get("assumed"):
        more.append(f"Its hull: {f['assumed']}")
    more += _seen(f)
    if f.get("event") == "lost":
        last = "" if how_far is None else f": last known {where}"
        line = f'{name} fell silent in "{orders.name}"{last}'
        return Words(
            "LOST IN ZONE",
            line,
            (*position("Last position", f.get("last_lat"), f.get("last_lon")), *more),
        )
    title = "LEFT ZONE" if left else "IN GUARD ZONE"
    return Words(title, f'{name} {verb} "{orders.name}": {where}', tuple(more))


def _seen(f: Facts) -> list[str]:
    """How we know, where it is by radar."""
    silent_s = f.get("ais_silent_s")
    if silent_s is not None:
        radar = "radar has lost it too" if f.get("event") == "lost" else "seen by radar"
        return [f"AIS silent for {duration_text(silent_s)}; {radar}"]
    return ["Seen by radar"] if f.get("source") == "radar" else []


def _cpa(cpa: Any, doubt: Any, limit: float) -> str:
    """No finer than its data: '400 m (+/- 300 m) off', or 'within 300 m'. A doubt wider than
    what was asked for must not be read as a distance at which she passes."""
    if not doubt or cpa is None:
        return f"{metres(cpa)} off"
    off = as_fine_as(cpa, doubt)
    if off:
        return f"{metres(off)} (+/- {metres(doubt)}) off"
    return f"within {metres(doubt)}" if doubt <= limit else f"0 m (+/- {metres(doubt)}) off"


def _passes(f: Facts) -> str:
    """On which side, and where she crosses ahead or astern; never finer than is known."""
    passes, bow, when = f.get("passes"), f.get("bow_range_m"), f.get("bow_time_s")
    if not passes:
        return ""
    ends_on = passes in ("ahead", "astern")
    off = as_fine_as(bow if ends_on else f.get("cpa_m"), f.get("uncertainty_m"))
    if off == 0:
        return "On which side is not sure"
    if not ends_on:
        return f"Passes to {passes}"
    if off is None or when is None:
        return f"Passes {passes}"
    return f"Passes {passes}: crosses {metres(abs(off))} off in {duration_text(when)}"


def proximity(orders: RuleOrders, f: Facts) -> Words:
    name = clean(f.get("name", "A target"))
    cpa, tcpa, doubt = f.get("cpa_m"), f.get("tcpa_s"), f.get("uncertainty_m")
    how_far = f.get("range_m")
    now = "how far now is not known"
    if how_far is not None:
        now = joined(f"now {metres(how_far)}", bears(f))
    if tcpa is None or tcpa <= 0:
        line = f"{name} is close: {now}"
    else:
        how = " is turning: on her curve she" if f.get("curved") else ""
        off = _cpa(cpa, doubt, getattr(orders, "limit_m", math.inf))
        line = f"{name}{how} will pass {off} in {duration_text(tcpa)}; {now}"
    more = [said] if (said := _passes(f)) else []
    if f.get("speed_ms") is not None:
        more.append(_makes(f))
    if f.get("assumed"):
        more.append(f"Her hull: {f['assumed']}")
    if f.get("ais_silent_s") is not None:
        more += _seen(f)
    if f.get("event") == "lost":
        last = "" if how_far is None else f": last known {now.removeprefix('now ')}"
        line = f"{name} fell silent while closing{last}"
        return Words(
            "LOST SHIP",
            line,
            (*position("Last position", f.get("last_lat"), f.get("last_lon")), *more),
        )
    return Words("CLOSE SHIP", line, tuple(more))


def distress(orders: RuleOrders, f: Facts) -> Words:
    device = clean(f.get("device", "beacon"))
    where = joined(metres(f.get("range_m")), bears(f)) if f.get("range_m") is not None else ""
    if f.get("event") == "aid":
        line = f"{clean(f.get('name', 'An aid'))} is off its position" + (
            f": {where}" if where else ""
        )
        return Words("AID OFF STATION", line, (), "do not steer by it; tell the coastguard")
    name, test = clean(f.get("name", "")), bool(f.get("test"))
    said = f'says "{clean(f["text"])}"' if f.get("text") else "is active"
    radio = "This is no substitute for the radio watch"
    if test:
        said = f'is on test: "{clean(f["text"])}"' if f.get("text") else "is on test"
        todo = "no call for help; if it is one of ours, see who is testing it"
    elif f.get("event") == "text":
        todo = "read it; listen on VHF channel 16"
    else:
        todo = ""
    return Words(
        f"{device.upper()[:11]}{' TEST' if test else ''}",
        f"{device}{' (TEST)' if test else ''} {name} {said}" + (f": {where}" if where else ""),
        (*position("Position", f.get("lat"), f.get("lon")), radio),
        todo,
    )
