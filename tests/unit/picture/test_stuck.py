"""picture/stuck.py by real sentences: what cannot have stood still, and what can."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from demo import sentences
from demo.sentences import finish
from tests.scenes.sea import HERE, START_S, Sea

from shipkeeper.words.events import Gap
from shipkeeper.words.geo import offset

ORDERS = """
[[wind]]
name = "blow"
stronger_than = "25 kn"
[[depth]]
name = "shoal"
shallower_than = "2.5 m"
reference = "transducer"
forecast = "0 s"
watches = ["anchored", "underway"]
[[zone]]
name = "bow"
around = "ship"
sector = { left = 330, right = 30, from = "0 m", to = "0.5 NM", bearings = "relative" }
watches = ["anchored", "underway"]
"""


@pytest.fixture
def sea(tmp_path: Path) -> Sea:
    sea = Sea(tmp_path, ORDERS)
    sea.run(5)
    return sea


def go(sea: Sea, seconds: int, *say: Callable[[int], str], beat: int = 5) -> None:
    """Each says its sentence every `beat` seconds."""
    for second in range(0, seconds, beat):
        sea.hear(*(one(second) for one in say), wire="boat")
        sea.run(beat)


def alive(sea: Sea) -> None:
    """A minute in which every instrument shows that it lives."""
    for number in range(12):
        low = 7.0 + number % 2
        go(sea, 5, wind(9 + number % 3), depth(low), dbt(low), heading(44 + number % 2))


def wind(kn: float, *, wobble: float = 0.0) -> Callable[[int], str]:
    return lambda s: sentences.mwv(30.0 + wobble * (s // 5 % 3), kn * sentences.KNOT_MS, "R")


def heading(deg: float) -> Callable[[int], str]:
    return lambda s: sentences.hdt(deg)


def depth(m: float) -> Callable[[int], str]:
    return lambda s: sentences.dpt(m, 0.6)


def dbt(m: float) -> Callable[[int], str]:
    """The same sounding as older gear tells it."""
    return lambda s: finish(f"SDDBT,{m / 0.3048:.1f},f,{m:.1f},M,{m / 1.8288:.1f},F")


def faults(sea: Sea) -> dict[str, str]:
    return {r.id: r.text for r in sea.standing().values() if r.kind == "feed"}


def test_wind_that_never_changes_is_lost_and_told(sea: Sea) -> None:
    """And good again at once when it changes; the alert goes after its off-delay."""
    sea.anchor()
    alive(sea)
    go(sea, 590, wind(12), depth(6.0), heading(40))
    assert "blow" not in sea.standing()
    go(sea, 30, wind(12), depth(6.0), heading(40))
    assert sea.standing()["blow"].state == "unknown"
    told = sea.standing()["feed:boat"]
    assert told.title == "WATCH IS BLIND" and told.priority.label == "alarm"
    assert 'Input "boat" repeats the very same wind: frozen; blind: blow' in told.text
    sea.obey("ack", id="feed:boat")
    go(sea, 100, wind(12, wobble=0.1), depth(6.0), heading(40))
    assert "blow" not in sea.standing() and "feed:boat" not in sea.standing()


@pytest.mark.parametrize("say", [wind(2.0), wind(0.0), wind(12, wobble=0.1)])
def test_wind_that_may_be_true(sea: Sea, say: Callable[[int], str]) -> None:
    """Calm, near calm, and a tenth of a degree of life in it."""
    sea.anchor()
    alive(sea)
    go(sea, 1300, say, depth(6.0), heading(40))
    assert sea.raised("feed") == []


def test_an_alert_stands_while_its_wind_is_frozen(sea: Sea) -> None:
    """A gale, then a gateway that repeats a fair wind for ever: the alert does not clear."""
    sea.anchor()
    alive(sea)
    go(sea, 200, lambda s: wind(30 + s % 7)(s), depth(6.0), heading(40))
    assert "blow" in sea.standing()
    go(sea, 900, wind(30), depth(6.0), heading(40))
    assert sea.standing()["blow"].state == "active-unacknowledged"
    assert sea.raised().count("blow") == 1


def test_a_berth_over_mud_on_a_calm_day_is_no_fault(sea: Sea) -> None:
    """Heading, depth and calm the very same for four hours: all of it can be true."""
    sea.obey("berth", lat=HERE.lat, lon=HERE.lon)
    alive(sea)
    go(sea, 4 * 3600, wind(0), depth(3.1), heading(212), beat=10)
    assert sea.raised() == []


def test_at_anchor_heading_and_depth_alone_prove_nothing(sea: Sea) -> None:
    """A lake without wind, tide or way: no fault, though no figure changes for four hours."""
    sea.anchor()
    alive(sea)
    go(sea, 4 * 3600, wind(1), depth(6.0), heading(40), beat=10)
    assert sea.raised() == []


def test_a_heading_that_stands_while_she_moves_at_anchor(sea: Sea) -> None:
    """15 m of movement prove nothing; 25 m do. The sector that turned with it is unknown."""
    sea.anchor()
    alive(sea)
    sea.ship(1, 40, 5000)
    for away in (15.0, 25.0):
        sea.own = offset(HERE, 90, away)
        go(sea, 620, wind(8, wobble=1), depth(6.0), heading(40))
        assert ("feed:boat" in faults(sea)) == (away > 20)
    assert "the very same heading" in faults(sea)["feed:boat"]
    assert sea.engine.picture.own.heading_deg(START_S + sea.now_s) is None


def test_another_compass_on_the_same_wire_is_believed(sea: Sea) -> None:
    """Told as a fault, but nobody is blind."""
    sea.anchor()
    alive(sea)
    sea.ship(1, 40, 5000)
    sea.own = offset(HERE, 90, 30.0)

    def live(_: float) -> str:
        return finish(f"GPHDT,{41 + sea.now_s % 3:.1f},T")

    go(sea, 620, wind(2), depth(6.0), live, heading(40))
    sea.own = offset(HERE, 90, 55.0)
    for _ in range(130):
        go(sea, 5, wind(2), depth(6.0), live, heading(40))
        assert sea.engine.picture.own.heading_deg(START_S + sea.now_s) is not None
    told = sea.standing()["feed:boat"]
    assert "the very same heading" in told.text
    assert "blind" not in told.text


def test_under_way_the_course_turns_and_the_heading_does_not(sea: Sea) -> None:
    """Straight on for ten minutes is well steered; a turn of 40 degrees is not."""
    sea.obey("underway")
    alive(sea)
    assert sea.own is not None
    for course in (90.0, 130.0):
        for _ in range(130):
            sea.own = offset(sea.own, course, 15.0)
            fix = sentences.rmc(START_S + sea.now_s, sea.own.lat, sea.own.lon, 3.0, course)
            sea.hear(fix, sentences.hdt(90.0), sentences.dpt(sea.now_s % 7 + 9, 0.6), wire="boat")
            sea.hear(wind(2)(0), wire="boat")
            sea.ship_at(1, offset(sea.own, 60.0, 3000.0))  # else nobody needs the heading
            own, sea.own = sea.own, None
            sea.run(5)
            sea.own = own
        assert ("very same heading" in str(faults(sea))) == (course > 90)


def test_under_way_a_depth_that_never_changes(sea: Sea) -> None:
    """The same 6.0 m for a mile."""
    sea.obey("underway")
    alive(sea)
    for _ in range(130):
        assert sea.own is not None
        sea.own = offset(sea.own, 90.0, 12.0)
        go(sea, 5, depth(6.0), wind(2), lambda s: sentences.hdt(90.0 + sea.now_s % 3))
    assert (
        "repeats the very same depth where it must change: frozen; blind: shoal"
        in (faults(sea)["feed:boat"])
    )


def test_at_anchor_the_tide_must_show(sea: Sea) -> None:
    """With a rise of 2 m entered, three hours of one depth are three hours of a dead sounder;
    DPT and DBT of one sounding, rounded apart, are one instrument."""
    sea.obey("anchor", how="at", lat=HERE.lat, lon=HERE.lon, depth_m=6.0, rise_m=2.0)
    alive(sea)
    both = (depth(5.38), dbt(5.38))
    go(sea, 3 * 3600 - 60, wind(8, wobble=1), heading(40), *both, beat=10)
    assert sea.raised() == []
    go(sea, 120, wind(8, wobble=1), heading(40), *both, beat=10)
    assert "the very same depth" in faults(sea)["feed:boat"]
    assert sea.standing()["shoal"].state == "unknown"


def test_a_pause_and_a_gap_begin_anew(sea: Sea) -> None:
    """Ten minutes count only when it was heard all the time."""
    sea.anchor()
    alive(sea)
    go(sea, 400, wind(12), depth(6.0), heading(40))
    go(sea, 70, depth(6.0), heading(40))
    go(sea, 400, wind(12), depth(6.0), heading(40))
    assert sea.raised() == ["feed:boat"]  # the pause itself: no wind for a minute
    assert "no wind" in next(x.transition.text for x in sea.lines if x.transition.kind == "feed")


@pytest.mark.parametrize("kn", [8, 12])
def test_what_never_changed_since_the_watch_began_is_believed(sea: Sea, kn: float) -> None:
    """A bench or a gauge of coarse steps: nobody has seen it alive, so nobody can say it died."""
    sea.anchor()
    go(sea, 1300, wind(kn), depth(6.0), heading(40))
    sea.own = offset(HERE, 90, 30.0)
    go(sea, 1300, wind(kn + 1), depth(5.0), heading(40))
    assert sea.raised("feed") == []


@pytest.mark.parametrize("how", ["a pause", "a gap", "a restart"])
def test_frozen_wind_is_not_good_again_before_it_changes(sea: Sea, how: str) -> None:
    """Unplugged and plugged, a suspended machine, a restart: the gateway still repeats it, so
    the alert stands and the rule stays blind; one other figure heals it."""
    sea.anchor()
    alive(sea)
    go(sea, 620, wind(12), depth(6.0), heading(40))
    assert sea.standing()["blow"].state == "unknown"
    if how == "a pause":
        go(sea, 200, depth(6.0), heading(40))
    elif how == "a gap":
        sea.now_s += 900
        sea.handle(Gap(START_S + sea.now_s, START_S + sea.now_s - 900))
    else:
        sea.crash(60)
    raised = sea.raised().count("feed:boat")
    go(sea, 300, wind(12), depth(6.0), heading(40))
    assert sea.standing()["blow"].state == "unknown"
    assert "the very same wind" in sea.standing()["feed:boat"].text
    assert sea.raised().count("feed:boat") == raised
    sea.obey("ack", id="feed:boat")
    go(sea, 100, wind(12, wobble=0.1), depth(6.0), heading(40))
    assert "blow" not in sea.standing() and "feed:boat" not in sea.standing()


def test_after_a_restart_a_calm_is_no_frozen_wind(sea: Sea) -> None:
    """What the gateway repeated was a breeze."""
    sea.anchor()
    alive(sea)
    go(sea, 620, wind(12), depth(6.0), heading(40))
    sea.crash(60)
    go(sea, 120, wind(0), depth(6.0), heading(40))
    assert "blow" not in sea.standing()
    assert sea.standing()["feed:boat"].state == "rectified-unacknowledged"
