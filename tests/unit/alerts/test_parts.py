"""Names, timers and routes: the small parts under the board."""

from __future__ import annotations

import pytest
from tests.unit.alerts.bench import OUTLETS, Bench, Phone, holds, ship

from shipkeeper.alerts.naming import alert_id, find, slug_of
from shipkeeper.alerts.routing import Routes
from shipkeeper.alerts.timers import Timers
from shipkeeper.alerts.timings import Timings
from shipkeeper.words.alert import OWN_SHIP, Priority, Subject
from shipkeeper.words.orders import CallListEntry


@pytest.mark.parametrize(
    ("name", "slug"),
    [("inner guard zone", "inner-guard-zone"), ("  A & B ", "a-b"), ("", "rule"), ("é", "rule")],
)
def test_slugs(name: str, slug: str) -> None:
    """Letters and figures, joined by dashes."""
    assert slug_of(name) == slug


@pytest.mark.parametrize(
    ("subject", "ident"),
    [
        (OWN_SHIP, "ring"),
        (ship(1), "ring:299000001"),
        (Subject("radar:12", "radar", "radar target 12"), "ring:radar-12"),
        (Subject("input:gnss", "input", "gnss"), "ring:gnss"),
        (Subject("part:gust", "part", "gust"), "ring:gust"),
        (Subject("ais:299000001:left", "ais", "X"), "ring:299000001-left"),
    ],
)
def test_ids_are_of_rule_and_subject(subject: Subject, ident: str) -> None:
    """Own ship is the rule's alone; a radar target is never taken for an MMSI."""
    assert alert_id("ring", subject) == ident


def test_an_alert_is_found_by_id_number_and_unambiguous_beginning() -> None:
    """Else the answer says what was meant, perhaps."""
    bench = Bench()
    bench.judge("ring", holds(ship(1)), holds(ship(2)))
    everything = bench.board.desk.everything()
    one = find("ring:299000001", everything)
    assert not isinstance(one, str)
    assert find(str(one.record.number), everything) is one
    assert find(f"#{one.record.number}", everything) is one
    assert find("RING:299000001", everything) is one
    assert "several" in str(find("ring", everything))
    assert "no alert" in str(find("wind", everything))
    assert "which alert" in str(find(" ", everything))


def test_timers_fire_in_order_and_ties_never_vary() -> None:
    """By due time, then by kind, then by name; setting anew replaces."""
    timers = Timers()
    timers.set("people", "b", 5.0)
    timers.set("on", "b", 5.0)
    timers.set("on", "a", 5.0)
    timers.set("off", "a", 1.0)
    timers.set("off", "a", 9.0)
    timers.set("silence", "a", 2.0)
    timers.set("silence", "a", None)
    assert timers.next_due() == 5.0
    order = []
    while (due := timers.pop(10.0)) is not None:
        order.append(due)
    assert order == [(5.0, "on", "a"), (5.0, "on", "b"), (5.0, "people", "b"), (9.0, "off", "a")]
    assert timers.next_due() is None


def test_a_timer_set_to_and_fro_fires_once() -> None:
    """No ghost of an earlier setting."""
    timers = Timers()
    for due_s in (3.0, 4.0, 3.0):
        timers.set("on", "a", due_s)
    assert timers.pop(10.0) == (3.0, "on", "a")
    assert timers.pop(10.0) is None


def test_whoever_is_on_the_call_list_is_not_called_at_once_unless_named() -> None:
    """The default is all, but for people whom the list keeps for later."""
    routes = Routes(OUTLETS, (CallListEntry(after_s=30.0, call=("mate",)),), Timings())
    assert routes.at_once(None, Priority.ALARM) == ("skipper", "log")
    assert routes.at_once(("mate",), Priority.ALARM) == ("mate", "log")
    assert routes.people_at(None, Priority.ALARM, 29.9) == ("skipper",)
    assert routes.people_at(None, Priority.ALARM, 30.0) == ("skipper", "mate")


def test_an_outlet_is_told_from_its_priority_up() -> None:
    """`from_priority` of the orders."""
    outlets = (Phone(name="a", from_priority="alarm"), Phone(name="b"))
    routes = Routes(outlets, (), Timings())
    assert routes.at_once(None, Priority.WARNING) == ("b",)
    assert routes.at_once(None, Priority.EMERGENCY) == ("a", "b")


def test_the_call_list_lies_within_the_cadence() -> None:
    """Its own times are stages too; after the last, every three minutes for ever."""
    listed = (CallListEntry(after_s=45.0, call=("x",)), CallListEntry(after_s=600.0, call=("y",)))
    routes = Routes((), listed, Timings())
    assert [s.after_s for s in routes.stages] == [15.0, 30.0, 45.0, 120.0, 600.0]
    assert [s.level for s in routes.stages] == [1, 2, 2, 3, 3]
    assert routes.next_stage(600.0).after_s == 780.0
    assert routes.next_stage(780.0).after_s == 960.0
    assert routes.next_stage(1e6).level == 9
    at = routes.stage_at(1000.0)
    assert at is not None
    assert at.after_s == 960.0
    assert routes.stage_at(14.9) is None
