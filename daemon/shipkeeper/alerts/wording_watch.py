"""What is said of the watch itself: blind inputs, gaps, its own parts, who is there."""

from __future__ import annotations

from ..words.orders import RuleOrders
from ..words.timing import duration_text
from .phrases import WHY_MAX, Facts, Words, clean, listed, metres, position

_FAULTS = {
    "silent": "says nothing",
    "lost": "is gone",
    "no fix": "has no position fix",
    "jump": "jumps about: its positions are not believed",
    "frozen": "repeats the same data: frozen",
    "stuck wind": "repeats the very same wind: frozen",
    "stuck heading": "repeats the very same heading while she turns or moves: frozen",
    "stuck depth": "repeats the very same depth where it must change: frozen",
    "time back": "has its time going back",
    "errors": "sends mostly broken sentences",
    "time leap": "has its time leaping ahead",
    "no ais": "has fallen silent as an AIS receiver: nothing even of itself",
    "poor fix": "has a poor fix",
    "disagree": "disagrees with another receiver",
    "echo": "puts us where our own AIS does not",
}


def feed(orders: RuleOrders, f: Facts) -> Words:
    fault = str(f.get("fault", ""))
    affected = listed(f.get("affected"))
    if fault == "unserved":
        line = f"Nothing brings {listed(f.get('lacking')) or 'what is needed'}; blind: {affected}"
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
    more += position("Last good position", f.get("last_lat"), f.get("last_lon"))
    if f.get("why"):
        more.append(clean(f["why"], WHY_MAX))
    return Words("WATCH IS BLIND" if affected else "INPUT FAULT", line, tuple(more))


def own_parts(orders: RuleOrders, f: Facts) -> Words:
    if f.get("event") == "gap":
        blind = listed(f.get("rules"))
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
    if what == "date":
        return _wrong_date(f)
    if what == "service":
        return Words("OUT OF SERVICE", f"Still out of service: {listed(f.get('rules'))}")
    why = clean(f.get("why", ""), WHY_MAX)
    return Words(
        "WATCH FAULT", f"{what[:1].upper()}{what[1:]} does not work" + (f": {why}" if why else "")
    )


def _wrong_date(f: Facts) -> Words:
    ahead_s = float(f.get("ahead_s") or 0.0)
    days = abs(ahead_s) / 86_400
    far = f"{days / 365.25:.1f} years" if days > 700 else f"{days:.0f} days"
    far = duration_text(abs(ahead_s)) if days < 2 else far
    line = (
        f'Input "{clean(f.get("input", "a receiver"))}" tells {f.get("told", "a wrong time")} UTC: '
        f"{far} {'ahead' if ahead_s > 0 else 'behind'}"
    )
    todo = "give the receiver open sky and a restart; if it stays so, have it updated or replaced"
    more = ("Its positions are used, its date is not",)
    return Words("WRONG TIME" if days < 1 else "WRONG DATE", line, more, todo)


def presence(orders: RuleOrders, f: Facts) -> Words:
    passed = duration_text(f.get("passed_s") or 0.0)
    if (f.get("stage") or 0) < 2:
        return Words("ARE YOU THERE?", f"Are you there? No sign of anyone aboard for {passed}")
    todo = "go to the watch place; if nobody is there, count the crew: someone may be overboard"
    return Words("NO ANSWER", f"Nobody on watch has answered for {passed}", (), todo)


def drill(orders: RuleOrders, f: Facts) -> Words:
    if f.get("event") == "overdue":
        days = int((f.get("passed_s") or 0.0) // 86_400)
        line = f"The way from sensor to person was last proved {days} days ago"
        if not f.get("ever"):
            line = f"The way from sensor to person has never been proved, in {days} days"
        return Words("DRILL OVERDUE", line, (), "prove it, in daylight: shipkeeper drill")
    more = ("Whatever is real is still watched, and goes first",)
    line = "A test of the way to you; nothing is wrong with the boat"
    return Words("DRILL: ANSWER IT", line, more, "acknowledge it: that proves you were reached")
