"""Depth: the reference is what the orders say, spikes do not count, the tide is foretold."""

from __future__ import annotations

import math

import pytest

from shipkeeper.rules.depth import FORECAST, SHOALING, DepthOrders
from shipkeeper.rules.tide_trend import M2_S
from shipkeeper.words.observations import Depth
from shipkeeper.words.verdict import Verdict

from .helpers import VESSEL, picture, put


def own(verdicts: tuple[Verdict, ...]) -> Verdict:
    return next(v for v in verdicts if v.subject.key == "own")


@pytest.mark.parametrize(
    ("reference", "offset", "depth"),
    [
        ("transducer", None, 3.0),
        ("waterline", None, 3.6),  # transducer 0.6 m under the waterline
        ("waterline", 0.5, 3.5),  # DPT offset to the waterline goes before the orders
        ("keel", None, 1.8),  # draught 1.8 m
        ("keel", -1.1, 1.9),  # DPT offset to the keel
    ],
)
def test_the_depth_is_measured_from_the_reference(
    reference: str, offset: float | None, depth: float
) -> None:
    """3.0 m under the transducer is another number from the waterline and from the keel."""
    rule = DepthOrders(shallower_than_m=1.0, reference=reference).build(VESSEL)  # type: ignore[arg-type]  # parametrized Literal
    assert rule.at_reference(Depth(3.0, offset)) == pytest.approx(depth)


def test_without_a_draught_the_keel_cannot_be_judged() -> None:
    """It says what is missing instead of judging from another reference."""
    from shipkeeper.words.orders import Vessel

    bare = Vessel(name="x", length_m=10.0, beam_m=3.0)
    rule = DepthOrders(shallower_than_m=1.0, reference="keel").build(bare)
    scene = picture(vessel=bare)
    put(scene, 0.0, Depth(3.0))
    assert rule.judge(scene, 0.0, frozenset()).missing == ("draught",)


def test_no_sounding_is_unknown_not_deep() -> None:
    """Lost data is never normal."""
    rule = DepthOrders(shallower_than_m=2.0).build(VESSEL)
    scene = picture()
    assert rule.judge(scene, 0.0, frozenset()).missing == ("depth",)
    put(scene, 0.0, Depth(5.0))
    assert rule.judge(scene, 100.0, frozenset()).missing == ("depth",)


def test_one_spike_is_not_judged_at_once() -> None:
    """Half the limit skips the delay only after three soundings in a row."""
    rule = DepthOrders(shallower_than_m=2.0).build(VESSEL)
    scene = picture()
    at_once = []
    for t, depth in enumerate([5.0, 0.3, 5.0, 0.4, 0.4, 0.4]):
        put(scene, float(t), Depth(depth))
        at_once.append(own(rule.judge(scene, float(t), frozenset()).verdicts).at_once)
    assert at_once == [False, False, False, False, False, True]


def test_the_deadband_holds_on_both_sides() -> None:
    """Shallower than 2.5 m holds at 2.4, is gone only from 2.7 m on."""
    rule = DepthOrders(shallower_than_m=2.5).build(VESSEL)
    scene = picture()
    seen = {}
    for t, depth in enumerate([2.4, 2.6, 2.71]):
        put(scene, float(t), Depth(depth))
        verdict = own(rule.judge(scene, float(t), frozenset()).verdicts)
        seen[depth] = (verdict.holds, verdict.is_gone)
    assert seen == {2.4: (True, False), 2.6: (False, False), 2.71: (False, True)}


def test_shoaling_is_a_rate_not_a_wave() -> None:
    """1 m a minute is seen; a swell of half a metre about one depth is not."""
    rate = 0.5 / 60
    for fall, holds in ((1.0 / 60, True), (0.0, False)):
        rule = DepthOrders(shoals_faster_than_ms=rate).build(VESSEL)
        scene = picture("underway")
        said = None
        for t in range(180):
            depth = 12.0 - fall * t + 0.25 * math.sin(t / 1.1)
            put(scene, float(t), Depth(depth))
            verdicts = rule.judge(scene, float(t), frozenset()).verdicts
            said = next(v for v in verdicts if v.subject == SHOALING)
        assert said is not None
        assert said.holds is holds


@pytest.mark.parametrize("range_m", [2.0, 4.0, 6.0])
@pytest.mark.parametrize("set_h", [1.0, 2.5])
def test_the_coming_touch_is_told_half_an_hour_ahead(range_m: float, set_h: float) -> None:
    """On a simulated semidiurnal tide with a 0.1 m swell, the forecast stands at least 30 min
    before the depth gets there, and never when low water stays above the limit."""
    rule = DepthOrders(shallower_than_m=1.0, reference="keel").build(VESSEL)
    scene = picture()
    low = 0.6  # under the keel at low water
    told = touched = None
    high_water = set_h * 3600  # this long after the boat was anchored
    for t in range(0, 8 * 3600, 10):
        level = low + range_m / 2 * (1 + math.cos(2 * math.pi * (t - high_water) / M2_S))
        put(scene, float(t), Depth(level + 1.2 + 0.1 * math.sin(t / 3.0)))
        verdicts = rule.judge(scene, float(t), frozenset()).verdicts
        if told is None and any(v.subject == FORECAST and v.holds for v in verdicts):
            told = t
        if touched is None and level < 1.0:
            touched = t
            break
    assert touched is not None
    assert told is not None
    assert 30 <= (touched - told) / 60 <= 75


def test_a_low_water_that_stays_above_the_limit_is_not_foretold() -> None:
    """The curve bends: a straight line from half tide would have cried wolf."""
    rule = DepthOrders(shallower_than_m=1.0, reference="keel").build(VESSEL)
    scene = picture()
    for t in range(0, 9 * 3600, 10):
        level = 1.5 + 2.0 * (1 + math.cos(2 * math.pi * (t - 3600) / M2_S))
        put(scene, float(t), Depth(level + 1.2 + 0.1 * math.sin(t / 3.0)))
        verdicts = rule.judge(scene, float(t), frozenset()).verdicts
        assert not any(v.subject == FORECAST and v.holds for v in verdicts)
