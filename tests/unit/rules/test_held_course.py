"""A receiver that holds its course at rest: the noise of its speed is no way outward."""

from __future__ import annotations

import math
import random

import msgspec
import pytest

from shipkeeper.rules.anchoring.estimator import AnchorEstimator
from shipkeeper.rules.anchoring.held_course import HeldCourse
from shipkeeper.rules.anchoring.records import Kept
from shipkeeper.rules.anchoring.setting import AnchorSetting


def run(speed_ms: float, *, moves: bool, hz: float = 1.0, seconds: float = 300.0) -> list[bool]:
    """Whether the course counted, fix by fix; course 090 all the time."""
    held, told = HeldCourse(), []
    for i in range(int(seconds * hz)):
        t_s = i / hz
        x_m = speed_ms * t_s if moves else 3.0 * math.sin(t_s / 30.0)
        told.append(held.told(t_s, x_m, 0.0, speed_ms, 90.0) is not None)
    return told


@pytest.mark.parametrize("hz", [1.0, 10.0])
@pytest.mark.parametrize("speed_ms", [0.08, 0.15, 0.29])
def test_a_held_course_is_found_out_by_the_fixes(speed_ms: float, hz: float) -> None:
    """0.18 kn (0.09 m/s) on the mean beside two courses in five minutes: as a receiver at rest
    tells it in the recording static_5min_pair2_b of the tests' real data."""
    told = run(speed_ms, moves=False, hz=hz)
    assert told[0] and not told[-1]


@pytest.mark.parametrize("speed_ms", [0.1, 0.25, 0.5])
def test_a_boat_that_goes_on_one_course_keeps_it(speed_ms: float) -> None:
    """Her fixes show the way; over 0.3 m/s nothing is asked."""
    assert all(run(speed_ms, moves=True))
    assert all(run(0.5, moves=False))


def test_once_found_out_it_is_known_for_what_it_is() -> None:
    """Another course held later counts for a quarter of a minute, not for another 8 m."""
    held = HeldCourse()
    for t in range(200):
        held.told(float(t), 0.0, 0.0, 0.1, 90.0)
    told = [held.told(200.0 + t, 0.0, 0.0, 0.1, 170.0) is not None for t in range(60)]
    assert told[10] and not told[20]


@pytest.mark.parametrize("speed_kn", [0.2, 0.3])
def test_noise_on_a_held_course_is_no_dragging_anchor(speed_kn: float) -> None:
    """She lies to her rode and swings; the receiver still shows the course on which she backed
    away from her anchor. The excess stays far under any limit (11.6 m with wind)."""
    random.seed(5)
    setting = AnchorSetting(
        kind="anchored", rode_m=35.0, depth_m=6.0, rise_m=0.0, bow_height_m=1.3, length_m=11.4,
        beam_m=3.6, rode_kind="chain", chain_size_m=None, antenna_aft_m=8.9,
        antenna_starboard_m=0.0, how_marked="at",
    )  # fmt: skip
    estimator = AnchorEstimator(setting, dwell_s=20.0)
    east = north = most = 0.0
    for t in range(3600):
        wind_from = 200.0 + 20.0 * math.sin(2 * math.pi * t / 180.0)
        out = math.radians(wind_from + 180.0)
        east += -east * 0.003 + random.gauss(0.0, 0.08)
        north += -north * 0.003 + random.gauss(0.0, 0.08)
        said = estimator.step(
            float(t), 38.9 * math.sin(out) + east, 38.9 * math.cos(out) + north,
            speed_kn * 0.5144, 20.0, 0.9, wind_from % 360.0, 9.3 + 2.0 * math.sin(t / 40.0),
            wind_from % 360.0, 6.0,
        )  # fmt: skip
        most = max(most, said.excess_m)
    assert most < 6.0
    again = AnchorEstimator(setting, dwell_s=20.0)
    assert again.restore(estimator.snapshot())
    assert msgspec.msgpack.decode(again.snapshot(), type=Kept).holds_course  # over a restart too
