"""Wind by real sentences through the whole engine: what is lost in part, and what comes back."""

from __future__ import annotations

from pathlib import Path

import pytest
from demo import sentences
from tests.scenes.sea import Sea

BLOW = """
[[wind]]
name = "blow"
stronger_than = "25 kn"
shift_over = "40 deg"
"""


def go(sea: Sea, seconds: int, kn: float | None, head: float | None, at: float = 0.0) -> None:
    """at: the wind's angle from the bow; None: that instrument says nothing."""
    for _ in range(seconds):
        if kn is not None:
            angle = (at + sea.now_s % 3) % 360
            sea.hear(sentences.mwv(angle, kn * sentences.KNOT_MS), wire="boat")
        if head is not None:
            sea.hear(sentences.hdt((head + sea.now_s % 2) % 360), wire="boat")
        sea.run(1)


@pytest.fixture
def sea(tmp_path: Path) -> Sea:
    sea = Sea(tmp_path, BLOW)
    go(sea, 5, 10, 90)
    sea.anchor()
    return sea


def test_wind_that_comes_back_is_not_good_before_it_has_a_mean(sea: Sea) -> None:
    """Lost in a fair wind, back in a blow: unknown all the while, never 'nothing holds'."""
    go(sea, 100, 10, 90)
    go(sea, 100, None, 90)
    begun = len(sea.lines)
    go(sea, 150, 35, 90)
    mine = [line.transition for line in sea.lines[begun:] if line.transition.alert == "blow"]
    assert [t.to for t in mine] == ["normal", "active-unacknowledged"]
    assert "is being confirmed: Wind 35.0 kn" in mine[0].text


def test_without_a_heading_the_shift_is_blind_and_the_mean_is_not(sea: Sea) -> None:
    """The feed names the rule and what it lacks; a blow is raised all the same."""
    go(sea, 300, 10, 90)
    go(sea, 320, 10, None)
    told = sea.standing()["feed:boat"]
    assert told.priority.label == "alarm"
    assert "no heading; blind: blow" in told.text
    assert sea.standing()["blow:shift"].state == "unknown"
    assert "blow" not in sea.standing()
    go(sea, 200, 35, None)
    assert sea.standing()["blow"].state == "active-unacknowledged"
    go(sea, 240, 35, 90)
    assert "blow:shift" not in sea.standing()


def test_a_shift_stands_while_the_heading_is_lost_and_in_light_air(sea: Sea) -> None:
    """Raised by a veer of 90 degrees; neither ends it. That the wind is back where it was does."""
    go(sea, 300, 12, 90)
    go(sea, 300, 12, 90, at=90)
    assert sea.standing()["blow:shift"].state == "active-unacknowledged"
    assert "veered" in sea.standing()["blow:shift"].text
    go(sea, 500, 12, None, at=0)
    go(sea, 500, 2, 90, at=0)
    assert sea.standing()["blow:shift"].state == "active-unacknowledged"
    assert sea.raised().count("blow:shift") == 1
    go(sea, 700, 12, 90, at=0)
    assert sea.standing()["blow:shift"].state == "rectified-unacknowledged"


def test_the_boat_that_swings_is_no_shift(sea: Sea) -> None:
    """The same wind from another side of the boat, as she turns with the tide: relative wind is
    turned with heading."""
    for turned in range(0, 360, 30):
        go(sea, 60, 12, 90 + turned, at=-turned % 360)
    assert sea.raised("blow") == []
