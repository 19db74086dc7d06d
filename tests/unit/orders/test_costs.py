"""Warnings and notes: what is missing, what it costs, and only where it costs something."""

from __future__ import annotations

from tests.unit.orders.samples import GOOD, KINDS

from shipkeeper.orders import Problem, read

BOAT = '[vessel]\nname = "a"\nlength = "9 m"\nbeam = "3 m"\n'
ZONE = '[[zone]]\nname = "z"\nring = { to = "50 m" }\n'


def remarks(text: str) -> list[Problem]:
    orders, problems, found = read(text, "o.toml", KINDS)
    assert orders is not None, problems
    return found


def warned(text: str) -> list[str]:
    return [r.key for r in remarks(text) if r.weight == "warning"]


def test_drag_by_reach_needs_to_know_the_boat() -> None:
    """Antenna, bow height and rode are each told with what they cost."""
    assert warned(BOAT + "[drag]\n") == ["antenna", "bow_height", "rode"]


def test_a_plain_circle_needs_neither_rode_nor_bow() -> None:
    """With radius outright nothing of the boat is missed; it is only noted."""
    found = remarks(BOAT + '[drag]\nradius = "45 m"\n')
    assert {r.weight for r in found} == {"note"}
    assert "not needed by these rules: mmsi, antenna, bow_height" in found[0].expected


def test_zones_miss_the_own_identity_and_the_antenna() -> None:
    """Without mmsi the own echo may be a target; mmsi = 0 says there is none."""
    assert warned(BOAT + ZONE) == ["mmsi", "antenna"]
    assert warned(BOAT + "mmsi = 0\n" + ZONE) == ["antenna"]


def test_a_call_that_never_gets_there_is_warned_of() -> None:
    """A warning sent to an outlet that takes alarms only reaches nobody."""
    text = GOOD.replace('from_priority = "warning"', 'from_priority = "alarm"')
    text = text.replace('call = ["buzzer"]', 'call = ["buzzer", "skipper"]')
    assert warned(text) == ["call"]
    found = [r for r in remarks(text) if r.weight == "warning"]
    assert found[0].where == 'zone "inner guard zone"'
    assert found[0].told("o.toml").startswith("o.toml:24: warning: zone")


def test_a_rule_switched_off_is_warned_of() -> None:
    """priority = "none" watches nothing, and the person is reminded."""
    text = GOOD.replace('radius = "45 m"', 'radius = "45 m"\npriority = "none"')
    assert warned(text) == ["priority"]


def test_a_watch_without_ears_or_voice_is_warned_of() -> None:
    """Inputs without outlets call nobody; outlets without inputs hear nothing."""
    wire = '[[input]]\nname = "a"\ntcp = "127.0.0.1:1"\n'
    voice = '[[outlet]]\nname = "b"\nterminal = {}\n'
    drag = '[drag]\nradius = "45 m"\n'
    texts = [r.expected for r in remarks(BOAT + drag + wire) if r.weight == "warning"]
    assert any("nobody would be called" in text for text in texts)
    assert any("expected to bring a position" in text for text in texts)
    texts = [r.expected for r in remarks(BOAT + drag + voice) if r.weight == "warning"]
    assert texts == ["no [[input]]: the watch would hear nothing"]
