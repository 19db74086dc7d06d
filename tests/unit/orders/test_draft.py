"""orders/draft: whatever a person answers, the text is orders that `check` accepts."""

from __future__ import annotations

import itertools
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.app.kinds import KINDS
from shipkeeper.orders import read
from shipkeeper.orders.draft import Answers, Person, Wire, draft

ALL = ("position", "heading", "depth", "wind", "ais", "radar")
GNSS = Wire("gnss", "serial", "/dev/serial/by-id/usb-gnss", 4800, ("position",))
BOAT = Wire("boat", "tcp", "192.0.2.10:10110", None, ALL)
FULL = Answers(
    name="Curlew", length="11.4 m", beam="3.6 m", mmsi=299_000_020, from_bow="8.9 m",
    from_port="1.8 m", bow_height="1.3 m", rode="chain", transducer_depth="0.6 m",
    draught="1.8 m", wires=(GNSS, BOAT), buzzer_line=17,
    people=(Person("skipper", "/nowhere/push-skipper"), Person("mate", "credential:push-mate")),
)  # fmt: skip


def test_full_answers_give_orders_without_a_warning() -> None:
    orders, problems, remarks = read(draft(FULL), "orders.toml", KINDS)
    assert problems == [] and [r for r in remarks if r.weight == "warning"] == []
    assert orders is not None
    assert orders.vessel.length_m == 11.4 and orders.vessel.mmsi == 299_000_020
    assert {wire.name: wire.expect for wire in orders.inputs} == {
        "gnss": ("position",),
        "boat": ALL,
    }
    assert {rule.table for rule in orders.rules} >= {"zone", "proximity", "drag", "depth", "wind"}
    depth = next(rule for rule in orders.rules if rule.table == "depth")
    assert depth.shallower_than_m == 2.3  # type: ignore[attr-defined]  # draught and half a metre
    assert [entry.call for entry in orders.call_list] == [("mate",)]


def test_the_least_answers_give_orders_too() -> None:
    orders, problems, _ = read(draft(Answers(name="B", length="6 m", beam="2 m")), "o", KINDS)
    assert problems == [] and orders is not None
    drag = next(rule for rule in orders.rules if rule.table == "drag")
    assert drag.radius_m == 45.0  # type: ignore[attr-defined]  # no rode: a plain circle


def test_what_was_not_heard_is_not_watched() -> None:
    """Nor expected: fresh orders raise no fault for what the boat does not have."""
    for count in range(len(ALL) + 1):
        for what in itertools.combinations(ALL, count):
            answers = Answers(
                name="B", length="6 m", beam="2 m", wires=(Wire("w", "tcp", "h:1", None, what),)
            )
            orders, problems, _ = read(draft(answers), "o", KINDS)
            assert problems == [] and orders is not None
            tables = {rule.table for rule in orders.rules}
            assert ("depth" in tables) == ("depth" in what)
            assert ("wind" in tables) == ("wind" in what)
            assert ("zone" in tables) == bool({"ais", "radar"} & set(what))


@given(st.text(min_size=1, max_size=30).filter(lambda text: text.isprintable() and text.strip()))
def test_any_name_comes_back_as_it_was_typed(name: str) -> None:
    """Quotes, backslashes, other scripts."""
    orders, problems, _ = read(draft(Answers(name=name, length="6 m", beam="2 m")), "o", KINDS)
    assert problems == [] and orders is not None and orders.vessel.name == name


def test_no_secret_stands_in_the_text(tmp_path: Path) -> None:
    assert "://" not in draft(FULL)
