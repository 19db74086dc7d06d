"""Answers of a person, and what was heard on the wires, written out as commented orders.

Pure: text out, nothing read or written. Only what was heard is watched, so that orders fresh
from `shipkeeper setup` raise no fault for an instrument that the boat does not have.
"""

from __future__ import annotations

import json
from collections.abc import Sequence

import msgspec

from ..words.units import parse_quantity, quantity_text

KEEL_ROOM_M = 0.5


class Wire(msgspec.Struct, frozen=True):
    """One [[input]]: `key` is 'serial' or 'tcp', `expect` what was heard on it."""

    name: str
    key: str
    address: str
    baud: int | None = None
    expect: tuple[str, ...] = ()


class Person(msgspec.Struct, frozen=True):
    """Who is pushed to; `secret` is the path of the file with the addresses, or a credential."""

    name: str
    secret: str


class Answers(msgspec.Struct, frozen=True, kw_only=True):
    """What a person said. Quantities as in the orders ('11.4 m'); '' where nothing was said."""

    name: str
    length: str
    beam: str
    mmsi: int = 0
    from_bow: str = ""
    from_port: str = ""
    bow_height: str = ""
    rode: str = ""
    transducer_depth: str = ""
    draught: str = ""
    wires: tuple[Wire, ...] = ()
    people: tuple[Person, ...] = ()
    buzzer_line: int | None = None
    buzzer_chip: str = "/dev/gpiochip0"


def quoted(text: str) -> str:
    """A TOML string. JSON's escapes are TOML's, but for one character."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007F")


def draft(answers: Answers) -> str:
    """The orders file. `check` accepts it, if each answer is of its kind."""
    heard = {what for wire in answers.wires for what in wire.expect}
    parts = [
        "# Orders as `shipkeeper setup` wrote them from your answers. Read them, mend them, ask",
        "# after every change:   shipkeeper check --explain",
        '# Quantities are text with a unit: "11.4 m", "0.25 NM", "25 kn", "30 s", "12.1 V".',
        "",
        *_vessel(answers),
        *_wires(answers.wires),
        *_rules(answers, heard),
        *_outlets(answers),
        "[recorder]                       # what was heard, for rehearsals and reports",
        'keep = "14 days"',
        'limit = "2 GB"',
    ]
    return "\n".join(parts) + "\n"


def _row(key: str, value: str, comment: str = "") -> str:
    said = f"{key} = {value}"
    return f"{said:<32} # {comment}" if comment else said


def _known(key: str, value: str, comment: str = "") -> str:
    """A row, or the same as a comment where nothing was said."""
    if value:
        return _row(key, quoted(value), comment)
    return _row(f"# {key}", '"..."', f"not said: {comment}" if comment else "not said")


def _vessel(a: Answers) -> list[str]:
    antenna = f"from_bow = {quoted(a.from_bow)}"
    if a.from_port:
        antenna += f", from_port = {quoted(a.from_port)}"
    given = "antenna = { %s }" if a.from_bow else "# antenna = { %s }"
    return [
        "[vessel]",
        _row("name", quoted(a.name)),
        _row("mmsi", str(a.mmsi), "your own, so that your own AIS is no target; 0: none"),
        _row("length", quoted(a.length)),
        _row("beam", quoted(a.beam)),
        given % (antenna if a.from_bow else 'from_bow = "...", from_port = "..."')
        + "  # the GNSS antenna",
        _known("bow_height", a.bow_height, "bow roller above the water"),
        _known("rode", a.rode, "chain | mixed (chain and rope)"),
        _known("transducer_depth", a.transducer_depth, "below the waterline"),
        _known("draught", a.draught),
        "",
    ]


def _wires(wires: Sequence[Wire]) -> list[str]:
    out = ["# ---- what the watch hears " + "-" * 40, ""]
    if not wires:
        out += [
            "# Nothing was heard, so nothing stands here: without an input nothing is watched.",
            "# [[input]]",
            '# name = "gnss"',
            '# serial = "/dev/serial/by-id/..."',
            "# baud = 4800",
            '# expect = ["position"]',
            "",
        ]
    for wire in wires:
        out += ["[[input]]", _row("name", quoted(wire.name)), _row(wire.key, quoted(wire.address))]
        if wire.baud is not None:
            out.append(_row("baud", str(wire.baud)))
        expect = "[" + ", ".join(quoted(what) for what in wire.expect) + "]"
        out += [_row("expect", expect, "silence of these is a fault"), ""]
    return out


def _rules(a: Answers, heard: set[str]) -> list[str]:
    out = ["# ---- what to call for " + "-" * 44, ""]
    if heard & {"ais", "radar"}:
        out += [
            "[[zone]]                         # whoever comes in; not the neighbours already there",
            'name = "guard zone"',
            'around = "ship"',
            'ring = { to = "0.1 NM" }',
            'watches = ["anchored", "moored"]',
            'priority = "warning"',
            'consequence = "a boat lies, or drags, within reach of ours"',
            'response = "look out: who is it, and where will she lie?"',
            "",
            "[[proximity]]                    # a ship that will come too close",
            'name = "close quarters"',
            'cpa = "0.2 NM"',
            'tcpa = "10 min"',
            'within = "4 NM"',
            'priority = "alarm"',
            'consequence = "a ship runs us down"',
            'response = "look out now; light up the deck; call her on the radio"',
            "",
        ]
    # Without the rode the reach cannot be reckoned well: a plain circle that a person draws.
    how = ['false_alarms = "1 in 365 nights"']
    if not a.rode:
        how = [_row("radius", '"45 m"', "from the anchor to the antenna: rode, boat and room")]
    out += [
        "[drag]                           # our own anchor",
        *how,
        'priority = "alarm"',
        'consequence = "we go ashore, or into a neighbour"',
        'response = "go on deck; take a bearing; start the engine; more rode, or weigh anchor"',
        "",
    ]
    if "depth" in heard:
        out += _depth(a)
    if "wind" in heard:
        out += ["[[wind]]", 'name = "blow"', 'stronger_than = "25 kn"', 'mean = "1 min"', ""]
    return out


def _depth(a: Answers) -> list[str]:
    reference, least = "transducer", "2.5 m"
    if a.transducer_depth:
        reference = "waterline"
        if a.draught:
            keel_m = parse_quantity(a.draught, "length") + KEEL_ROOM_M
            least = quantity_text(round(keel_m, 1), "length")
    return [
        "[[depth]]",
        'name = "shoal water"',
        _row("shallower_than", quoted(least), "choose it for the anchorage and its tide"),
        _row("reference", quoted(reference), "keel | waterline | transducer"),
        "",
    ]


def _outlets(a: Answers) -> list[str]:
    out = ["# ---- whom to call " + "-" * 48, "", "[[outlet]]", 'name = "buzzer"']
    if a.buzzer_line is None:
        out.append(_row("terminal", "{}", "only drawn: no GPIO line was named, and nothing sounds"))
    else:
        chip = quoted(a.buzzer_chip)
        out.append(f"buzzer = {{ chip = {chip}, line = {a.buzzer_line} }}")
    out.append("")
    for number, person in enumerate(a.people):
        least = "alarm" if number else "warning"
        out += [
            "[[outlet]]",
            _row("name", quoted(person.name)),
            f"push = {{ urls = {quoted(person.secret)} }}",
            _row("from_priority", quoted(least)),
            "",
        ]
    out += ["[[outlet]]", 'name = "log"', 'syslog = { address = "/dev/log" }', ""]
    if len(a.people) > 1:
        names = ", ".join(quoted(person.name) for person in a.people[1:])
        out += [
            "[[call_list]]                    # who is called when nobody acknowledges",
            'after = "30 s"',
            f"call = [{names}]",
            "",
        ]
    return out
