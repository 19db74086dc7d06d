"""The button aboard on the real board: what it does, and that the answer is heard."""

from __future__ import annotations

import pytest
from tests.unit.alerts.bench import RULES, Bench, holds, ship

from shipkeeper.alerts.board import Board
from shipkeeper.alerts.commands import Clerk
from shipkeeper.words.alert import State
from shipkeeper.words.effects import Reply


def press(bench: Bench, how: str) -> Reply:
    return bench.command("press", how=how, who="the button", through="button")


def heard(bench: Bench) -> tuple[str, int]:
    return bench.sound.click, bench.sound.clicks


def raised(bench: Bench, slug: str) -> Bench:
    bench.say(slug, holds())
    bench.run(RULES[slug].confirm_s + 1)
    return bench


def test_a_short_press_silences_all_and_acknowledges_nothing() -> None:
    bench = raised(raised(Bench(), "blow"), "drag")
    assert press(bench, "short").code == 0
    assert {bench.state("blow"), bench.state("drag")} == {State.SILENCED}
    assert heard(bench) == ("click", 1)
    bench.wait(30)
    assert bench.state("drag") is State.UNACKNOWLEDGED


def test_a_short_press_with_nothing_to_silence_is_answered_too() -> None:
    """It says 'I am here'; whoever pressed hears that it was taken."""
    bench = Bench()
    assert press(bench, "short").code == 0
    assert heard(bench) == ("click", 1)


def test_a_long_press_acknowledges_the_one_that_calls() -> None:
    bench = raised(Bench(), "blow")
    assert press(bench, "long").code == 0
    record = bench.record("blow")
    assert record.state is State.ACKNOWLEDGED
    assert (record.acknowledged_by, record.acknowledged_through) == ("the button", "button")
    assert heard(bench) == ("click", 1)


def test_a_long_press_on_several_is_refused_and_sounds_otherwise() -> None:
    bench = raised(Bench(), "blow")
    bench.judge("hatch", holds())
    reply = press(bench, "long")
    assert (reply.code, "one by one" in reply.text) == (2, True)
    assert bench.state("blow") is State.UNACKNOWLEDGED
    assert heard(bench) == ("refused", 1)


def test_a_group_is_one_that_calls() -> None:
    """Two ships on one list are one announcement; but the press answers the speaker alone."""
    bench = Bench()
    bench.judge("ring", holds(ship(1)), holds(ship(2)))
    assert press(bench, "long").code == 0
    states = {bench.state(f"ring:{299_000_000 + n}") for n in (1, 2)}
    assert states == {State.ACKNOWLEDGED, State.UNACKNOWLEDGED}


def test_what_takes_a_picture_is_only_silenced_unless_the_orders_say_the_button_sees() -> None:
    """MSC.302(87), category A: a button in a bunk shows no range and no bearing."""
    bench = raised(Bench(), "drag")
    assert press(bench, "long").code == 1
    assert bench.state("drag") is State.SILENCED
    assert heard(bench) == ("refused", 1)
    bench = Bench()
    board: Board = bench.board
    board._clerk = Clerk(board.desk, board._duty, ("command line", "button"))
    raised(bench, "drag")
    assert press(bench, "long").code == 0
    assert bench.state("drag") is State.ACKNOWLEDGED


def test_a_command_aboard_is_heard_and_one_from_ashore_is_not() -> None:
    """MSC.302(87): an acknowledgement is confirmed where it is given."""
    bench = raised(Bench(), "blow")
    bench.command("ack", "blow", where="ashore")
    assert heard(bench) == ("", 0)
    bench.command("ack", "blow")
    assert heard(bench) == ("click", 1)


@pytest.mark.parametrize("how", ["", "twice", None, 3])
def test_a_press_that_means_nothing_never_acknowledges(how: object) -> None:
    bench = raised(Bench(), "blow")
    bench.command("press", how=how, through="button")
    assert bench.state("blow") is State.SILENCED
