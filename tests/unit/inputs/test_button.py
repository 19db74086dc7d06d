"""The push button: what a finger means. Lines themselves need a board; this machine has none."""

from __future__ import annotations

import threading
from collections.abc import Mapping
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.inputs.button import STUCK_S, ButtonOrders, ButtonReader, Presses


def meant(*looks: tuple[float, bool]) -> list[tuple[float, str]]:
    """What is told when, of levels at times."""
    presses = Presses(1.5)
    told: list[tuple[float, str]] = []
    for at_s, down in looks:
        how = presses.look(down, at_s)
        if how is not None:
            told.append((at_s, how))
    return told


def test_a_short_press_counts_when_it_is_let_go() -> None:
    assert meant((0, False), (1.0, True), (1.4, True), (1.5, False)) == [(1.5, "short")]


def test_a_long_press_counts_while_it_is_held_and_only_once() -> None:
    looks = [(0, False), (1.0, True), *((1.0 + n / 20, True) for n in range(1, 80)), (6.0, False)]
    assert meant(*looks) == [(2.5, "long")]


def test_edges_that_come_late_are_told_by_their_stamps() -> None:
    """Both edges read after the fact: it is still a short press, or a long one."""
    assert meant((0, False), (1.0, True), (1.05, False)) == [(1.05, "short")]
    assert meant((0, False), (1.0, True), (3.0, False)) == [(3.0, "long")]


def test_a_button_that_is_down_at_first_says_nothing_until_it_was_let_go() -> None:
    """A daemon that starts anew under a finger, or a stuck one, must not acknowledge."""
    assert meant((0, True), (5.0, True), (6.0, False)) == []
    assert meant((0, True), (6.0, False), (7.0, True), (7.1, False)) == [(7.1, "short")]


def test_a_stuck_button_is_known() -> None:
    presses = Presses(1.5)
    presses.look(False, 0.0)
    presses.look(True, 1.0)
    assert not presses.is_stuck(STUCK_S)
    assert presses.is_stuck(1.0 + STUCK_S)


@given(st.lists(st.tuples(st.floats(0.001, 3.0), st.booleans()), max_size=60))
def test_never_more_is_told_than_was_pressed(steps: list[tuple[float, bool]]) -> None:
    at_s, looks, downs, before = 0.0, [(0.0, False)], 0, False
    for step_s, down in steps:
        at_s += step_s
        looks.append((at_s, down))
        downs += down and not before
        before = down
    assert len(meant(*looks)) <= downs


class Nobody:
    def command(
        self, verb: str, args: Mapping[str, Any], *, who: str = "", through: str = ""
    ) -> int:
        raise AssertionError(verb)


def test_a_missing_chip_is_raised_for_the_supervisor() -> None:
    reader = ButtonReader(ButtonOrders(chip="/dev/gpiochip-none", line=23))
    with pytest.raises(OSError):
        reader.run(Nobody(), threading.Event())
