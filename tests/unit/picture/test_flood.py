"""Forged AIS identities without end: what is there keeps its place, and so does who comes.

The rates are those of both AIS channels full (75 reports a second for room for 2,000; M.1371, from
memory), scaled down tenfold to room for 200: 7 reports a second. More than that cannot be on the
air.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest
from tests.unit.picture.test_tracks import HERE, report

from shipkeeper.picture.tracks import Targets
from shipkeeper.words.geo import offset

RATE = 7
FORGED = 299_100_000


def once(second: int, number: int) -> tuple[int, float]:
    """Each identity is said once."""
    return second * RATE + number, 15.0


def twice(second: int, number: int) -> tuple[int, float]:
    """Twice within a second, so that it seems to be followed; then never again."""
    return (second * RATE + number) // 2, 15.0


def at_anchor(second: int, number: int) -> tuple[int, float]:
    """As boats at anchor, who need say it each three minutes only."""
    return (second * RATE + number) // 2, 0.0


def in_turn(second: int, number: int) -> tuple[int, float]:
    """Six hundred in turn, each heard again and again."""
    return (second * RATE + number) % 600, 15.0


Forging = Callable[[int, int], tuple[int, float]]


def test_those_let_go_leave_nothing_behind() -> None:
    """Ten thousand identities through room for 100: what is kept of them does not grow."""
    targets = Targets(capacity=100)
    targets.own_place = HERE
    most = 0
    for second in range(1000):
        for number in range(10):
            place = offset(HERE, number * 36.0, 1000.0)
            mmsi = FORGED + second * 10 + number
            targets.report(report(place, mmsi=mmsi, speed=5.0), "ais", float(second))
        targets.sweep(float(second))
        most = max(most, len(targets._silence))
    assert most < 1600


@pytest.mark.parametrize("forging", [once, twice, at_anchor, in_turn])
@pytest.mark.parametrize("every_s", [6, 10])
def test_who_comes_while_identities_are_forged_is_followed(forging: Forging, every_s: int) -> None:
    """A ship comes from five miles off, ten minutes into it, at twelve knots; every forged one is
    nearer and faster. From two miles on she is held nearly always: a rule with a delay of five
    seconds sees her long enough to be raised."""
    targets = Targets(capacity=200)
    targets.own_place = HERE
    held, looked = 0, 0
    for second in range(2000):
        now_s = float(second)
        range_m = 9260.0 - 6.17 * max(0, second - 600)
        if second >= 600 and second % every_s == 0:
            place = offset(HERE, 200.0, range_m)
            targets.report(report(place, mmsi=299000099, speed=6.17), "ais", now_s)
        for number in range(RATE):
            identity, speed = forging(second, number)
            place = offset(HERE, identity * 51.0 % 360.0, 100.0)
            targets.report(report(place, mmsi=FORGED + identity, speed=speed), "ais", now_s)
        targets.sweep(now_s)
        assert len(targets) <= 200
        if 200.0 < range_m < 3704.0:
            looked += 1
            held += any(target.mmsi == 299000099 for target in targets)
    assert looked > 400
    assert held >= 0.9 * looked, f"{held} of {looked} s"
