"""The receiver: error statistics of its class, faults where the plan puts them, Doppler."""

from math import cos, hypot, log, radians, sin, sqrt
from random import Random
from statistics import fmean, pstdev

import pytest

from shipkeeper.simulate import QUALITIES, Gnss, GnssFault, NightPlan, random_plan, simulate
from shipkeeper.simulate.gnss import Receiver
from shipkeeper.simulate.receivers import draw_gnss


def errors(gnss: Gnss, seconds: float, every_s: float = 1.0, seed: int = 1) -> list[float]:
    """Radial errors of a receiver that stands still, without wind."""
    receiver = Receiver(NightPlan(seed=seed, gnss=gnss), every_s)
    found = []
    for i in range(int(seconds / every_s)):
        receiver.step(i * every_s, 0.0, 0.0, 0.0, 0.0, 0.0)
        if receiver.x_m is not None:
            found.append(hypot(receiver.error_x_m, receiver.error_y_m))
    return sorted(found)


def share(sorted_errors: list[float], part: float) -> float:
    """The error that this part of the fixes stay within."""
    return sorted_errors[int(part * len(sorted_errors))]


# Circular normal (Rayleigh) factors of one axis' sigma; CEP = 0.833 drms, R95 = 1.73 drms also in
# GPS accuracy texts. Computed outside: sqrt(-2 ln(1 - P)).
CEP, R95, R99 = 1.17741, 2.447747, 3.034854


@pytest.mark.parametrize("sigma_m", [0.8, 1.8, 3.5])
def test_errors_are_circular_normal_of_the_sigma_declared(sigma_m: float) -> None:
    """At steady HDOP, CEP, drms, R95 and R99 are the Rayleigh factors times sigma."""
    gnss = Gnss(sigma_m=sigma_m, hdop_wander=0.0, slow_tau_s=200.0)
    found = errors(gnss, 1_200_000.0, every_s=10.0)
    assert sqrt(fmean(e * e for e in found)) == pytest.approx(sqrt(2) * sigma_m, rel=0.04)
    assert share(found, 0.5) == pytest.approx(CEP * sigma_m, rel=0.05)
    assert share(found, 0.95) == pytest.approx(R95 * sigma_m, rel=0.05)
    assert share(found, 0.99) == pytest.approx(R99 * sigma_m, rel=0.06)
    assert share(found, 0.95) / share(found, 0.5) == pytest.approx(R95 / CEP, rel=0.05)
    assert sqrt(-2 * log(0.5)) == pytest.approx(CEP, abs=1e-5)


def test_error_is_coloured() -> None:
    """One minute apart the errors are still alike, an hour apart they are not."""
    receiver = Receiver(NightPlan(gnss=Gnss(slow_tau_s=400.0, hdop_wander=0.0)), 10.0)
    xs = []
    for i in range(60_000):
        receiver.step(i * 10.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        xs.append(receiver.error_x_m)

    def alike(steps: int) -> float:
        pairs = zip(xs[:-steps], xs[steps:], strict=True)
        return fmean(a * b for a, b in pairs) / pstdev(xs) ** 2

    assert alike(6) > 0.55
    assert abs(alike(360)) < 0.1


@pytest.mark.parametrize(("quality", "low_m", "high_m"), [
    ("fine", 0.7, 2.0), ("ordinary", 1.4, 4.0), ("poor", 2.6, 8.0)])  # fmt: skip
def test_drawn_receivers_keep_to_their_class(quality: str, low_m: float, high_m: float) -> None:
    """drms of a night without its faults lies where the class says."""
    for seed in range(6):
        gnss = draw_gnss(Random(seed), 28_800.0, quality)
        plain = Gnss(sigma_m=gnss.sigma_m, hdop_wander=gnss.hdop_wander, slow_tau_s=150.0)
        found = errors(plain, 400_000.0, every_s=10.0, seed=seed)
        assert low_m < sqrt(fmean(e * e for e in found)) < high_m


def test_hdop_tells_of_the_quality() -> None:
    """Fixes with a high HDOP are worse than those with a low one."""
    receiver = Receiver(NightPlan(gnss=Gnss(hdop_wander=0.3)), 10.0)
    good: list[float] = []
    bad: list[float] = []
    for i in range(60_000):
        receiver.step(i * 10.0, 0.0, 0.0, 0.0, 0.0, 0.0)
        assert receiver.hdop is not None
        where = bad if receiver.hdop >= 1.3 else good if receiver.hdop <= 0.8 else []
        where.append(hypot(receiver.error_x_m, receiver.error_y_m))
    assert fmean(bad) > 1.4 * fmean(good)


def test_faults_come_when_the_plan_says() -> None:
    """An excursion, an outlier and a dropout show in their time and only then."""
    faults = (
        GnssFault(kind="multipath", start_s=100, duration_s=60, east_m=30.0),
        GnssFault(kind="outlier", start_s=300, duration_s=1, north_m=-200.0),
        GnssFault(kind="dropout", start_s=400, duration_s=50),
        GnssFault(kind="step", start_s=600, east_m=8.0),
    )
    gnss = Gnss(sigma_m=0.3, hdop_wander=0.0, slow_tau_s=1000.0, faults=faults)
    plan = NightPlan(duration_s=700.0, gnss=gnss)
    off_x, off_y = [], []
    for s in simulate(plan):
        lost = 400 <= s.t_s < 450
        assert (s.fix_x_m is None) is lost
        assert (s.sog_ms is None) is lost
        off_x.append(0.0 if s.fix_x_m is None else s.fix_x_m - s.antenna_x_m)
        off_y.append(0.0 if s.fix_y_m is None else s.fix_y_m - s.antenna_y_m)
    assert off_x[130] == pytest.approx(30.0, abs=2.0)
    assert abs(off_x[99]) < 2.0
    assert abs(off_x[165]) < 2.0
    assert off_y[300] == pytest.approx(-200.0, abs=2.0)
    assert abs(off_y[301]) < 2.0
    assert off_x[601] - off_x[598] == pytest.approx(8.0, abs=1.5)


def test_doppler_speed_is_that_of_the_antenna() -> None:
    """The way made by Doppler adds up to the way of the antenna, far better than the fixes do."""
    gnss = Gnss(speed_sigma_ms=0.03, speed_lag_s=0.0)
    plan = NightPlan(duration_s=1200.0, gnss=gnss, seed=3)
    samples = list(simulate(plan))
    east = north = 0.0
    for s in samples[1:]:
        assert s.sog_ms is not None
        assert s.cog_deg is not None
        east += s.sog_ms * sin(radians(s.cog_deg))
        north += s.sog_ms * cos(radians(s.cog_deg))
    assert east == pytest.approx(samples[-1].antenna_x_m - samples[0].antenna_x_m, abs=6.0)
    assert north == pytest.approx(samples[-1].antenna_y_m - samples[0].antenna_y_m, abs=6.0)


def test_a_receiver_that_clamps_says_zero() -> None:
    """Below its clamp the speed is exactly zero and there is no course."""
    plan = NightPlan(duration_s=600.0, gnss=Gnss(clamp_ms=0.5))
    slow = [s for s in simulate(plan) if s.sog_ms == 0.0]
    assert len(slow) > 300
    assert all(s.cog_deg is None for s in slow)


def test_every_quality_is_drawn() -> None:
    """The population holds all qualities, and faults belong to poor receivers most of all."""
    plans = [random_plan(seed) for seed in range(60)]
    assert {p.gnss_class for p in plans} == set(QUALITIES)

    def faults(quality: str) -> float:
        return fmean(len(p.gnss.faults) for p in plans if p.gnss_class == quality)

    assert faults("poor") > faults("ordinary") > faults("fine")
