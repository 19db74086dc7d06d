"""The words: what a person reads at 3 a.m. What happened, how far, since when, what to do.

One function a kind makes a title (at most 16 characters), a terse first line for a lock screen
and the facts of the body from `verdict.facts`; what is common to all (since when, age of data,
which order, what to do) is added here. A missing fact leaves its words out, never breaks a text.
Names from the air are cleaned before they get anywhere.
"""

from __future__ import annotations

import math
import unicodedata
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

import msgspec

from ..words.geo import format_position
from ..words.orders import RuleOrders
from ..words.timing import duration_text
from ..words.units import MS_PER_KN

TITLE_MAX = 16
NAME_MAX = 40
WHY_MAX = 160  # a reason of the system's, or of a person
Facts = Mapping[str, Any]


class Words(msgspec.Struct, frozen=True):
    """Title, first line, the sentences that say more, and what to do where that is something
    else than for others of its kind."""

    title: str
    line: str
    more: tuple[str, ...] = ()
    todo: str = ""


def clean(name: object, most: int = NAME_MAX) -> str:
    """A name from the air or from a person: printable, one line, short. No control, format
    or direction signs, no padding signs of AIS."""
    text = "".join(
        " " if unicodedata.category(c)[0] in "CZ" or c == "@" else c for c in str(name)[:200]
    )
    return " ".join(text.split())[:most]


def fit(title: str) -> str:
    """At most TITLE_MAX characters, without a cut-off blank."""
    return title[:TITLE_MAX].rstrip()


def metres(value: Any) -> str:
    """52.13 -> '52 m'; 1500 -> '0.81 NM'."""
    if value is None:
        return "? m"
    if abs(value) < 10:
        return f"{value:.1f} m"
    return f"{value:.0f} m" if abs(value) < 1000 else f"{value / 1852:.2f} NM"


def as_fine_as(value: Any, doubt_m: Any) -> Any:
    """A length with no more figures than its doubt leaves: 1234 +/- 300 -> 1200."""
    if value is None or not doubt_m or doubt_m < 1.0:
        return value
    step = 10.0 ** math.floor(math.log10(doubt_m))
    return round(value / step) * step


def bearing(value: Any) -> str:
    return "" if value is None else f"{round(value) % 360:03d}"


def knots(value: Any) -> str:
    return "" if value is None else f"{value / MS_PER_KN:.1f} kn"


def words_of(kind: str, orders: RuleOrders, facts: Facts) -> Words:
    """The words of one verdict of one kind."""
    make = KINDS.get(kind, _plain)
    known = {key: value for key, value in facts.items() if _is_told(value)}
    try:
        made = make(orders, known)
    except (TypeError, ValueError, OverflowError):
        made = _plain(orders, known)  # a fact of the wrong sort must not cost the alert
    return msgspec.structs.replace(made, title=fit(made.title))


def _is_told(value: Any) -> bool:
    """None, and numbers that are none, are left out like what was never said."""
    return value is not None and not (isinstance(value, float) and not math.isfinite(value))


OLD_S = 30.0  # from here on an age alone is hard to place in the night


def body(
    words: Words,
    orders: RuleOrders,
    *,
    raised: str | None,
    held_s: float | None,
    data_age_s: float | None,
    data_lost: bool,
    data_at: str | None = None,
    response: str = "",
) -> str:
    """The whole text: first line, more, since when, how old the data is, order, what to do.
    data_at: the UTC label of the data; told with its age once it is old."""
    stamp = f" ({data_at[11:19]} UTC)" if data_at and (data_age_s or 0.0) >= OLD_S else ""
    parts = [words.line, *words.more]
    if raised is not None:
        parts.append(
            f"Since {raised[11:19]} UTC" + (f" ({duration_text(held_s)})" if held_s else "")
        )
    if data_lost:
        last = f": last {_age(data_age_s)} ago{stamp}" if data_age_s else ""
        parts.append("Data is lost" + last)
    elif data_age_s is not None:
        parts.append(f"Data {_age(data_age_s)} old{stamp}")
    parts.append(f'Order "{orders.name}"')
    own_words = orders.response != _usual_response(type(orders))
    todo = response or (orders.response if own_words else words.todo or orders.response)
    text = ". ".join(part.rstrip(".") for part in parts if part) + "."
    if not todo:
        return text
    return f"{text} Do: {todo}" + ("" if todo.endswith((".", "?", "!")) else ".")


@cache
def _usual_response(kind: type[RuleOrders]) -> object:
    """What a kind of rule says to do when the orders do not say it in words of their own."""
    found = {one.name: one.default for one in msgspec.structs.fields(kind)}
    return found["response"]


def _age(seconds: float | None) -> str:
    return duration_text(seconds or 0.0)


def _join(*parts: str) -> str:
    return ", ".join(part for part in parts if part)


def _own_zone(orders: RuleOrders, f: Facts) -> Words:
    more = (f"Own hull: {f['assumed']}",) if f.get("assumed") else ()
    todo = "look where she is: lines, anchor, chart, depth"
    middle = f.get("middle_m")
    it = "" if middle is None else f"its middle {_join(metres(middle), _bears(f))}"
    if f.get("event") == "left":
        out = f"{metres(f.get('range_m'))} outside"
        line = f'Own ship has left "{orders.name}": {_join(out, it)}'
        return Words("LEFT ZONE", line, more, todo)
    past = metres(f.get("past_m"))
    if f.get("shape") == "line":
        return Words("LINE CROSSED", f'Own ship is {past} past "{orders.name}"', more, todo)
    where = it or f"{past} past its edge"
    return Words("OWN SHIP IN ZONE", f'Own ship is in "{orders.name}": {where}', more, todo)


def _zone(orders: RuleOrders, f: Facts) -> Words:
    if f.get("own"):
        return _own_zone(orders, f)
    name = clean(f.get("name", "A target"))
    left = f.get("event") == "left"
    verb = "has left" if left else "is in"
    how_far = f.get("range_m")
    where = "how far is not known" if how_far is None else _join(metres(how_far), _bears(f))
    more = []
    if f.get("speed_ms") is not None:
        more.append(f"Makes {knots(f['speed_ms'])}" + _course(f))
    if f.get("assumed"):
        more.append(f"Its hull: {f['assumed']}")
    if f.get("source") == "radar":
        more.append("Seen by radar")
    if f.get("event") == "lost":
        last = f"last known {where}" if where else "place unknown"
        line = f'{name} fell silent in "{orders.name}": {last}'
        return Words(
            "LOST IN ZONE",
            line,
            (*_position("Last position", f.get("last_lat"), f.get("last_lon")), *more),
        )
    title = "LEFT ZONE" if left else "IN GUARD ZONE"
    return Words(title, f'{name} {verb} "{orders.name}": {where}', tuple(more))


def _position(what: str, lat: Any, lon: Any) -> tuple[str, ...]:
    """A sentence with a position, when there is one."""
    return () if lat is None or lon is None else (f"{what} {format_position(lat, lon)}",)


def _cpa(cpa: Any, doubt: Any) -> str:
    """No finer than its data: '400 m (+/- 300 m) off', or 'within 300 m'."""
    if not doubt or cpa is None:
        return f"{metres(cpa)} off"
    off = as_fine_as(cpa, doubt)
    return f"{metres(off)} (+/- {metres(doubt)}) off" if off else f"within {metres(doubt)}"


def _proximity(orders: RuleOrders, f: Facts) -> Words:
    name = clean(f.get("name", "A target"))
    cpa, tcpa, doubt = f.get("cpa_m"), f.get("tcpa_s"), f.get("uncertainty_m")
    now = _join(f"now {metres(f.get('range_m'))}", _bears(f))
    if tcpa is None or tcpa <= 0:
        line = f"{name} is close: {now}"
    else:
        how = " is turning: on her curve she" if f.get("curved") else ""
        line = f"{name}{how} will pass {_cpa(cpa, doubt)} in {duration_text(tcpa)}; {now}"
    more = []
    passes, bow, when = f.get("passes"), f.get("bow_range_m"), f.get("bow_time_s")
    if passes in ("port", "starboard"):
        more.append(f"Passes to {passes}")
    elif passes and bow is not None and when is not None:
        crosses = metres(as_fine_as(abs(bow), doubt))
        more.append(f"Passes {passes}: crosses {crosses} off in {duration_text(when)}")
    elif passes:
        more.append(f"Passes {passes}")
    if f.get("speed_ms") is not None:
        more.append(f"Makes {knots(f['speed_ms'])}" + _course(f))
    if f.get("assumed"):
        more.append(f"Her hull: {f['assumed']}")
    if f.get("event") == "lost":
        line = f"{name} fell silent while closing: last known {now.removeprefix('now ')}"
        return Words(
            "LOST SHIP",
            line,
            (*_position("Last position", f.get("last_lat"), f.get("last_lon")), *more),
        )
    return Words("CLOSE SHIP", line, tuple(more))


def _drag(orders: RuleOrders, f: Facts) -> Words:
    over = f.get("excess_m")
    event = f.get("event", "dragging")
    away = _join(f"{metres(f.get('distance_m'))} from the mark", _bears(f))
    more = []
    if event == "holding":
        line = f"Moved at least {metres(f.get('moved_m'))}, holding again; {away}"
    elif over is not None and over <= 0:
        line = f"Back where the anchor can hold her: {away}"
    elif f.get("mode") == "radius":
        line = f"Outside the circle by {metres(over)}: {away}"
    else:
        line = f"{metres(over)} beyond the reach of the rode: {away}"
    if f.get("made_good_m"):
        more.append(
            f"Moved {metres(f['made_good_m'])} towards {bearing(f.get('made_good_deg'))}"
            + (f" at {knots(f['speed_ms'])}" if f.get("speed_ms") else "")
        )
    if f.get("anchor_sigma_m") is not None:
        more.append(f"Anchor known to about {metres(f['anchor_sigma_m'])}")
    if f.get("wind_ms") is not None:
        more.append(f"Wind {knots(f['wind_ms'])}" + _was(f.get("wind_was_ms"), knots))
    if f.get("depth_m") is not None:
        more.append(f"Depth {f['depth_m']:.1f} m" + _was(f.get("depth_was_m"), metres))
    if f.get("odds") and event != "holding" and over is not None and over > 0:
        more.append(f"A boat that holds lies so {clean(f['odds'])}, by simulation")
    if f.get("fix_age_s") is not None and f["fix_age_s"] > 5:
        more.append(f"Last fix believed {duration_text(f['fix_age_s'])} ago")
    if f.get("missing"):
        more.append("Judged without " + ", ".join(map(str, f["missing"])))
    title = "DRAG? HOLDS NOW" if event == "holding" else "ANCHOR DRAGS"
    if f.get("only_early"):
        title = "DRAG? LOOK" if event != "holding" else title
    return Words(title, line, tuple(more))


def _was(value: Any, show: Callable[[Any], str]) -> str:
    return "" if value is None else f", {show(value)} when set"


def _depth(orders: RuleOrders, f: Facts) -> Words:
    reference = {"keel": "under the keel", "waterline": "of water"}.get(
        str(f.get("reference")), "under the transducer"
    )
    depth = f.get("depth_m")
    shown = "?" if depth is None else f"{depth:.1f} m"
    limit = f.get("limit_m")
    if f.get("event") == "forecast":
        eta = duration_text(f.get("eta_s") or 0.0)
        return Words(
            "LOW WATER SOON",
            f"Will be under {limit:.1f} m {reference} in about {eta}; now {shown}"
            if limit is not None
            else f"Low water in about {eta}",
            ("From the sounder's own record of the tide",),
        )
    if f.get("event") == "shoaling":
        rate = (f.get("rate_ms") or 0.0) * 60
        return Words("SHOALING FAST", f"Shoals {rate:.2f} m a minute; {shown} {reference}")
    title = "TOO DEEP" if f.get("deep") else "SHALLOW"
    against = "" if limit is None else f", limit {limit:.1f} m"
    return Words(title, f"{shown} {reference}{against}")


def _wind(orders: RuleOrders, f: Facts) -> Words:
    frame = f.get("frame", "true")
    from_ = f" from {bearing(f.get('from_deg'))}" if f.get("from_deg") is not None else ""
    mean, gust = knots(f.get("mean_ms")), knots(f.get("gust_ms"))
    if f.get("event") == "shift":
        side = "veered" if (f.get("shift_deg") or 0.0) > 0 else "backed"
        return Words(
            "WIND SHIFT",
            f"Wind has {side} {abs(f.get('shift_deg') or 0.0):.0f} degrees{from_}, mean {mean}",
        )
    if f.get("event") == "gust":
        return Words("GUSTS", f"Gust {gust}{from_} ({frame}), mean {mean}")
    return Words("WIND", f"Wind {mean}{from_} ({frame}), gusts {gust}")


def _sensor(orders: RuleOrders, f: Facts) -> Words:
    value, unit = f.get("value"), f.get("unit", "")
    shown = "?" if value is None else f"{value:.4g} {unit}".strip()
    name = clean(f.get("name", orders.name))
    event = f.get("event")
    if event in ("falls", "rises"):
        over = duration_text(f.get("over_s") or 0.0)
        return Words(name.upper(), f"{name} {event} by {shown} in {over}")
    return Words(
        name.upper(), f"{name} is {shown}, {event} its limit" if event else f"{name} {shown}"
    )


def _contact(orders: RuleOrders, f: Facts) -> Words:
    name = clean(f.get("name", orders.name))
    return Words(name.upper(), f"{name}: contact {'closed' if f.get('closed') else 'open'}")


_FAULTS = {
    "silent": "says nothing",
    "lost": "is gone",
    "no fix": "has no position fix",
    "jump": "jumps about: its positions are not believed",
    "frozen": "repeats the same data: frozen",
    "time back": "has its time going back",
    "errors": "sends mostly broken sentences",
    "time leap": "has its time leaping ahead",
    "no ais": "has fallen silent as an AIS receiver: nothing even of itself",
    "poor fix": "has a poor fix",
    "disagree": "disagrees with another receiver",
    "echo": "puts us where our own AIS does not",
}


def _feed(orders: RuleOrders, f: Facts) -> Words:
    fault = str(f.get("fault", ""))
    affected = _listed(f.get("affected"))
    if fault == "unserved":
        line = f"Nothing brings {_listed(f.get('lacking')) or 'what is needed'}; blind: {affected}"
        todo = "look around with your own eyes; see what the orders expect of which input"
        return Words("WATCH IS BLIND", line, (), todo)
    name = clean(f.get("input", "an input"))
    said = _FAULTS.get(fault, f"brings {fault}" if fault.startswith("no ") else fault or "is back")
    if f.get("apart_m") is not None:
        other = f' "{clean(f.get("other"))}"' if fault == "disagree" else ""
        said = _FAULTS.get(fault, said).replace(" another receiver", f" receiver{other}")
        said += f", by {metres(f['apart_m'])}"
    line = f'Input "{name}" {said}'
    if affected:
        line += f"; blind: {affected}"
    rest = f.get("rest") or {}
    more = [
        f'{what.capitalize()} now from "{clean(source)}"'
        for what, source in (rest.items() if isinstance(rest, dict) else ())
    ]
    more += _position("Last good position", f.get("last_lat"), f.get("last_lon"))
    if f.get("why"):
        more.append(clean(f["why"], WHY_MAX))
    return Words("WATCH IS BLIND" if affected else "INPUT FAULT", line, tuple(more))


def _distress(orders: RuleOrders, f: Facts) -> Words:
    device = clean(f.get("device", "beacon"))
    where = _join(metres(f.get("range_m")), _bears(f)) if f.get("range_m") is not None else ""
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
        (*_position("Position", f.get("lat"), f.get("lon")), radio),
        todo,
    )


def _self(orders: RuleOrders, f: Facts) -> Words:
    if f.get("event") == "gap":
        blind = _listed(f.get("rules"))
        more = (f"No eye was kept by: {blind}",) if blind else ()
        since, to = f.get("from"), f.get("to", "?")
        line = f"Not watched from {since} to {to} UTC"
        if since is None:
            line = f"Not watched for a time that is not known, to {to} UTC by this clock"
        todo = "look about: depth, wind, neighbours, the mark; see why it stopped"
        return Words("NOT WATCHED", line, more, todo)
    what = clean(f.get("what", "a part of the watch"))
    if what == "chatter":
        name, count = clean(f.get("alert", "an alert")), f.get("count", "many")
        return Words(
            "CHATTERING",
            f'"{name}" came {count} times; it is told as one now',
            ("Widen its deadband or its clear time",),
        )
    if what == "swamped":
        return Words(
            "TOO MANY ALERTS",
            f'"{f.get("rule", "?")}" has {f.get("count", "?")} alerts: more are not told by name',
            ("Identities may be forged: trust eyes and radar",),
        )
    if what == "crowd":
        return Words(
            "MANY TARGETS",
            f"{f.get('count', '?')} targets are held, of {f.get('room', '?')} at most",
            ("The least threatening are let go when it is full",),
        )
    if what == "no watch":
        minutes = f.get("minutes", "?")
        return Words(
            "NO WATCH SET",
            f"No watch is set, and she has lain as at anchor for {minutes} min",
            ("Nothing is watched",),
            "set one: shipkeeper anchor here; or moor, berth, underway",
        )
    if what == "service":
        return Words("OUT OF SERVICE", f"Still out of service: {_listed(f.get('rules'))}")
    why = clean(f.get("why", ""), WHY_MAX)
    return Words(
        "WATCH FAULT", f"{what[:1].upper()}{what[1:]} does not work" + (f": {why}" if why else "")
    )


def _presence(orders: RuleOrders, f: Facts) -> Words:
    passed = duration_text(f.get("passed_s") or 0.0)
    if (f.get("stage") or 0) < 2:
        return Words("ARE YOU THERE?", f"Are you there? No sign of anyone aboard for {passed}")
    todo = "go to the watch place; if nobody is there, count the crew: someone may be overboard"
    return Words("NO ANSWER", f"Nobody on watch has answered for {passed}", (), todo)


def _plain(orders: RuleOrders, f: Facts) -> Words:
    return Words(orders.name.upper(), orders.name)


def _listed(names: Any) -> str:
    """['drag', 'ring'] -> 'drag, ring'; '' for anything else."""
    if not isinstance(names, list | tuple):
        return ""
    return ", ".join(clean(name) for name in names)


def _bears(f: Facts) -> str:
    return f"bearing {bearing(f.get('bearing_deg'))}" if f.get("bearing_deg") is not None else ""


def _course(f: Facts) -> str:
    return f", course {bearing(f['course_deg'])}" if f.get("course_deg") is not None else ""


KINDS: dict[str, Callable[[RuleOrders, Facts], Words]] = {
    "zone": _zone,
    "proximity": _proximity,
    "drag": _drag,
    "depth": _depth,
    "wind": _wind,
    "sensor": _sensor,
    "contact": _contact,
    "feed": _feed,
    "distress": _distress,
    "presence": _presence,
    "self": _self,
}
