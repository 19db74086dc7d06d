"""Wind: mean, gust and shift; true and apparent kept apart; nothing judged without data."""

from __future__ import annotations

from shipkeeper.rules.wind import SHIFT, WindOrders
from shipkeeper.words.observations import Heading, Wind
from shipkeeper.words.units import MS_PER_KN

from .helpers import VESSEL, picture, put

KN = MS_PER_KN


def test_a_mean_is_a_mean_of_its_time() -> None:
    """A gust of some seconds does not raise a one-minute mean; a blow of a minute does."""
    rule = WindOrders(stronger_than_ms=25 * KN).build(VESSEL)
    scene = picture()
    held = []
    for t in range(300):
        gusting = 100 <= t < 105 or t >= 200
        put(scene, float(t), Wind((35 if gusting else 15) * KN, 0.0, "north"))
        verdicts = rule.judge(scene, float(t), frozenset()).verdicts
        held.append(any(v.holds for v in verdicts))
    assert not any(held[:200])
    assert 225 <= held.index(True) <= 240


def test_a_gust_is_three_seconds() -> None:
    """One wild reading is no gust; three seconds of it are, at once."""
    rule = WindOrders(gust_over_ms=30 * KN).build(VESSEL)
    scene = picture()
    first = None
    for t in range(200):
        put(scene, float(t), Wind((45 if t == 100 or t >= 150 else 20) * KN, 0.0, "north"))
        verdicts = rule.judge(scene, float(t), frozenset()).verdicts
        if first is None and any(v.holds for v in verdicts):
            first = t
            assert verdicts[0].at_once
    assert first is not None
    assert 150 <= first <= 152


def test_a_shift_is_told_from_the_wind_when_the_watch_was_set() -> None:
    """350 to 040 is a veer of 50 degrees, through north; light airs have no direction."""
    rule = WindOrders(stronger_than_ms=60 * KN, shift_over_deg=40.0).build(VESSEL)
    scene = picture()
    rule.watch_set(scene, 0.0)
    held = None
    for t in range(900):
        put(scene, float(t), Wind(12 * KN, 350.0 if t < 400 else 40.0, "north"))
        verdicts = rule.judge(scene, float(t), frozenset()).verdicts
        shift = [v for v in verdicts if v.subject == SHIFT]
        if held is None and shift and shift[0].holds:
            held = t
            assert shift[0].facts["shift_deg"] > 0
    assert held is not None
    assert 460 <= held <= 520


def test_the_shift_is_remembered_over_a_restart() -> None:
    """The direction of the evening is still the evening's after a restart at night."""
    rule = WindOrders(shift_over_deg=40.0).build(VESSEL)
    scene = picture()
    for t in range(200):
        put(scene, float(t), Wind(12 * KN, 350.0, "north"))
        rule.judge(scene, float(t), frozenset())
    state = rule.remember()
    assert state is not None
    again = WindOrders(shift_over_deg=40.0).build(VESSEL)
    again.recall(state, 200.0)
    assert again.remember() == state


def test_apparent_wind_is_not_taken_for_true_under_way() -> None:
    """Missing is said; the apparent frame has to be asked for."""
    scene = picture("underway")
    put(scene, 0.0, Wind(20 * KN, 30.0, "apparent"), Heading(90.0))
    true_rule = WindOrders(stronger_than_ms=10 * KN).build(VESSEL)
    assert true_rule.judge(scene, 0.0, frozenset()).missing == ("wind",)
    apparent = WindOrders(stronger_than_ms=10 * KN, frame="apparent", mean_s=1.0).build(VESSEL)
    assert apparent.judge(scene, 0.0, frozenset()).missing == ()


def test_no_wind_data_is_unknown() -> None:
    """A dead anemometer is not a calm."""
    rule = WindOrders(stronger_than_ms=25 * KN).build(VESSEL)
    assert rule.judge(picture(), 0.0, frozenset()).missing == ("wind",)


def test_a_long_mean_is_judged_by_its_first_minute() -> None:
    """With a mean of an hour nobody waits an hour: it blows from the start."""
    rule = WindOrders(stronger_than_ms=25 * KN, mean_s=3600.0).build(VESSEL)
    scene = picture()
    held = []
    for t in range(120):
        put(scene, float(t), Wind(30 * KN, 0.0, "north"))
        held.append(any(v.holds for v in rule.judge(scene, float(t), frozenset()).verdicts))
    assert held.index(True) == 58


def test_a_wind_that_goes_all_round_has_no_direction() -> None:
    """Behind a hill it comes from everywhere: no shift is made of that; a real one is told."""
    rule = WindOrders(shift_over_deg=40.0).build(VESSEL)
    scene = picture()
    for t in range(900):
        steady = 350.0 if t < 300 else 60.0
        put(
            scene,
            float(t),
            Wind(12 * KN, steady if t < 300 or t > 700 else t * 97.0 % 360, "north"),
        )
        held = [v for v in rule.judge(scene, float(t), frozenset()).verdicts if v.holds]
        assert not held or t > 700
    assert [v.value for v in held] == [70]
