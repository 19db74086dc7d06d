"""Depth: the reference is what the orders say, spikes do not count, the tide is foretold."""

from __future__ import annotations

import math

import pytest

from shipkeeper.picture.picture import Picture
from shipkeeper.picture.watch import AnchorMark, WatchSet
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
            said = next((v for v in verdicts if v.subject == SHOALING), None)
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


def anchored(rise_m: float, at_s: float = 0.0) -> Picture:
    """With what the crew told of the tide."""
    scene = picture()
    mark = AnchorMark(lat=50.0, lon=-5.0, set_at_s=at_s, rise_m=rise_m)
    scene.watch = WatchSet(watch="anchored", since_s=at_s, mark=mark)
    return scene


@pytest.mark.parametrize("rise_is_told", [False, True])
def test_a_told_rise_stands_in_for_a_high_water_that_the_sounder_missed(
    rise_is_told: bool,
) -> None:
    """Anchored at half flood on a tide of 5 m, the sounder off for five hours about high water;
    then the ebb runs for 25 min until the forecast. With the rise told the time of touching is
    known to ten minutes; from the soundings alone it is not."""
    high_s, range_m, low_m = 3 * 3600.0, 5.0, -1.0

    def keel_m(t: float) -> float:
        return low_m + range_m / 2 * (1 + math.cos(2 * math.pi * (t - high_s) / M2_S))

    scene = anchored(keel_m(high_s) - keel_m(0.0) if rise_is_told else 0.0)
    rule = DepthOrders(shallower_than_m=1.0, reference="keel", forecast_s=6 * 3600.0).build(VESSEL)
    touches = next(t for t in range(int(high_s), int(high_s + M2_S / 2)) if keel_m(t) < 0)
    verdicts: tuple[Verdict, ...] = ()
    for t in range(0, touches - 3600, 5):
        if 1200 <= t < touches - 3600 - 1500:
            continue
        put(scene, float(t), Depth(keel_m(t) + 1.2 + 0.1 * math.sin(t / 3.0)))
        verdicts = rule.judge(scene, float(t), frozenset()).verdicts
    told = next(v for v in verdicts if v.subject == FORECAST).facts
    assert rise_is_told == (abs(told.get("touches_s", 0.0) - 3600) < 600)


@pytest.mark.parametrize("wrong_m", [-0.4, 0.0, 0.4, 3.0])
def test_a_rise_told_wrong_does_no_harm_to_a_good_record(wrong_m: float) -> None:
    """The sounder saw the high water itself: the touch is foretold within ten minutes an hour
    before, with the rise told 0.4 m wrong or far beyond what can be."""
    high_s = 3 * 3600.0

    def keel_m(t: float) -> float:
        return -1.0 + 2.0 * (1 + math.cos(2 * math.pi * (t - high_s) / M2_S))

    scene = anchored(keel_m(high_s) - keel_m(0.0) + wrong_m)
    rule = DepthOrders(shallower_than_m=0.5, reference="keel").build(VESSEL)
    touches = next(t for t in range(int(high_s), int(high_s + M2_S / 2)) if keel_m(t) < 0)
    verdicts: tuple[Verdict, ...] = ()
    for t in range(0, touches - 3600, 5):
        put(scene, float(t), Depth(keel_m(t) + 1.2 + 0.1 * math.sin(t / 3.0)))
        verdicts = rule.judge(scene, float(t), frozenset()).verdicts
    facts = next(v for v in verdicts if v.subject == FORECAST).facts
    assert facts["touches_s"] == pytest.approx(3600, abs=600)
    assert facts["low_m"] == pytest.approx(-1.0, abs=0.5)
    again = DepthOrders(shallower_than_m=0.5, reference="keel").build(VESSEL)
    again.recall(rule.remember() or b"", touches - 3600.0)
    put(scene, touches - 3600.0, Depth(keel_m(touches - 3600) + 1.2))
    verdicts = again.judge(scene, touches - 3600.0, frozenset()).verdicts
    kept = next(v for v in verdicts if v.subject == FORECAST).facts
    assert kept["touches_s"] == pytest.approx(facts["touches_s"], abs=120)


def test_she_that_has_touched_will_not_touch() -> None:
    """Aground: no minute is told until then, but low water is."""
    rule = DepthOrders(shallower_than_m=0.5, reference="keel").build(VESSEL)
    scene = picture()
    verdicts: tuple[Verdict, ...] = ()
    for t in range(0, 3 * 3600, 10):
        keel_m = -1.0 + math.cos(2 * math.pi * (t + 3600) / M2_S)
        put(scene, float(t), Depth(keel_m + 1.2))
        verdicts = rule.judge(scene, float(t), frozenset()).verdicts
    facts = own(verdicts).facts
    assert "touches_s" not in facts
    assert facts["low_s"] == pytest.approx(M2_S / 2 - 4 * 3600, abs=600)
