"""A plan gives one night; drawn plans are broad and sound; instruments read what they should."""

from itertools import islice
from math import hypot
from statistics import fmean

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipkeeper.simulate import (
    DRAGS,
    WEATHERS,
    Instruments,
    NightPlan,
    Rode,
    WindKnot,
    random_plan,
    reversing_stream,
    simulate,
    tide,
)


def test_same_seed_same_night() -> None:
    """Two runs of one plan are equal to the last bit; another seed is another night."""
    one = list(islice(simulate(random_plan(5, "steady")), 1500))
    two = list(islice(simulate(random_plan(5, "steady")), 1500))
    other = list(islice(simulate(random_plan(6, "steady")), 1500))
    assert one == two
    assert one != other


def test_plans_of_one_seed_are_equal() -> None:
    """The draw itself is fixed by seed and class."""
    assert random_plan(9, "veer") == random_plan(9, "veer")
    assert random_plan(9, "veer") != random_plan(9, "creep")


@given(seed=st.integers(0, 100_000), drag=st.sampled_from(DRAGS))
@settings(max_examples=60, deadline=None)
def test_every_drawn_plan_can_be_played(seed: int, drag: str) -> None:
    """Plans are within their bounds, in time order, and the first minutes run."""
    plan = random_plan(seed, drag)
    times = [k.t_s for k in plan.wind]
    assert times == sorted(times)
    assert all(0.0 <= k.speed_ms < 30.0 for k in plan.wind)
    assert 7.0 <= plan.boat.length_m <= 16.0
    assert 3.0 <= plan.depth_m <= 15.0
    assert 0.85 * plan.rode.length_m < plan.rode.entered_m < 1.15 * plan.rode.length_m + 0.5
    assert hypot(plan.mark_x_m, plan.mark_y_m) < 35.0
    assert bool(plan.drags) is (drag != "none")
    assert len(list(islice(simulate(plan), 20))) == 20


def test_the_population_is_broad() -> None:
    """All weathers, all-chain and mixed rodes, calms and gales, all marks but 'at rest'."""
    plans = [random_plan(seed) for seed in range(200)]
    assert {p.weather_class for p in plans} == set(WEATHERS)
    assert {p.mark_class for p in plans} == {"true", "near", "wrong", "antenna", "late"}
    assert any(p.rode.chain_m < p.rode.length_m for p in plans)
    means = [fmean(k.speed_ms for k in p.wind) for p in plans]
    assert min(means) < 1.0
    assert max(means) > 14.0


@pytest.mark.parametrize("rate_hz", [0.1, 1.0, 5.0])
def test_any_rate(rate_hz: float) -> None:
    """Samples come at the rate asked for, from time 0, as many as fit."""
    samples = list(simulate(NightPlan(duration_s=60.0, rate_hz=rate_hz)))
    assert len(samples) == int(60 * rate_hz)
    assert samples[0].t_s == 0.0
    assert samples[1].t_s == pytest.approx(1.0 / rate_hz)


@pytest.mark.parametrize(
    ("plan", "why"),
    [
        (NightPlan(rode=Rode(length_m=6.0, entered_m=6.0, chain_m=6.0)), "too short"),
        (NightPlan(rode=Rode(length_m=30.0, entered_m=30.0, chain_m=31.0)), "of chain in"),
        (NightPlan(rate_hz=0.0), "rate"),
        (NightPlan(wind=()), "wind"),
        (NightPlan(wind=(WindKnot(10, 5, 0), WindKnot(0, 5, 0))), "go back in time"),
        (NightPlan(tide=tide(4.0, 1.6, 28_800.0)), "low water"),
    ],
)
def test_a_night_that_cannot_be_is_refused(plan: NightPlan, why: str) -> None:
    """Too short a rode, too much chain, no rate, no wind, time going back, drying out."""
    with pytest.raises(ValueError, match=why):
        next(simulate(plan))


def test_instruments_without_error_read_the_truth() -> None:
    """With all errors at zero the instruments and the truth agree, and true wind adds up."""
    exact = Instruments(
        compass_bias_deg=0.0,
        compass_swing_deg=0.0,
        compass_sigma_deg=0.0,
        wind_sigma_ms=0.0,
        vane_sigma_deg=0.0,
        depth_sigma_m=0.0,
        depth_loss=0.0,
    )
    plan = NightPlan(duration_s=300.0, instruments=exact, wind=(WindKnot(0, 9.0, 200.0),))
    for s in simulate(plan):
        assert s.heading_deg == pytest.approx(s.true_heading_deg)
        assert s.depth_m == pytest.approx(s.true_depth_m)
        assert s.wind_speed_ms == pytest.approx(s.true_wind_speed_ms, abs=1.2)
        assert s.wind_from_rel_deg is not None
        apparent = s.wind_from_rel_deg + s.true_heading_deg
        if s.true_wind_speed_ms > 4.0:
            assert abs((apparent - s.true_wind_from_deg + 180) % 360 - 180) < 15.0


def test_tide_and_stream_turn() -> None:
    """Height is taken from time 0; the stream reverses half a tide after."""
    heights = [k.height_m for k in tide(1.5, 0.0, 44_712.0)]
    assert heights[0] == 0.0
    assert max(heights) == pytest.approx(1.5, abs=0.01)
    assert min(heights) == pytest.approx(-1.5, abs=0.01)
    stream = reversing_stream(0.5, 0.0, 0.3, 44_712.0)
    assert max(k.north_ms for k in stream) == pytest.approx(0.5, abs=0.01)
    assert min(k.north_ms for k in stream) == pytest.approx(-0.5, abs=0.01)
    assert all(abs(k.east_ms) < 1e-9 for k in stream)
