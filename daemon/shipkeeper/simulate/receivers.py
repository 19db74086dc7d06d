"""Receivers drawn at random: three qualities, each with its usual faults through a night."""

from math import cos, pi, sin
from random import Random

from shipkeeper.simulate.gnss import hdop_rise_for
from shipkeeper.simulate.plan import Gnss, GnssFault

QUALITIES = ("fine", "ordinary", "poor")
_WEIGHTS = (35, 45, 20)
_SIGMA_M = {"fine": (0.6, 1.2), "ordinary": (1.2, 2.4), "poor": (2.2, 4.2)}
_HDOP = {"fine": (0.6, 0.9), "ordinary": (0.8, 1.3), "poor": (1.2, 2.4)}
_PER_NIGHT = {  # of eight hours: multipath, steps, outliers, dropouts
    "fine": (0.3, 0.5, 0.2, 0.3),
    "ordinary": (1.0, 1.5, 1.5, 1.0),
    "poor": (4.0, 4.0, 6.0, 4.0),
}


def draw_gnss(rand: Random, duration_s: float, quality: str | None = None) -> Gnss:
    """A receiver of a quality (None: by weight) with its faults for the night."""
    if quality is None:
        quality = rand.choices(QUALITIES, _WEIGHTS)[0]
    slow = rand.uniform(0.55, 0.85)
    hdop = rand.uniform(*_HDOP[quality])
    return Gnss(
        quality=quality,
        sigma_m=rand.uniform(*_SIGMA_M[quality]),
        slow_share=slow,
        slow_tau_s=rand.uniform(150.0, 1000.0),
        quick_share=rand.uniform(0.6, 0.95) * (1 - slow),
        quick_tau_s=rand.uniform(10.0, 60.0),
        hdop=hdop,
        hdop_wander=rand.uniform(0.05, 0.25),
        speed_sigma_ms=rand.uniform(0.02, 0.10) * (2.0 if quality == "poor" else 1.0),
        speed_tau_s=rand.uniform(0.5, 4.0),
        speed_lag_s=rand.choice((0.0, 0.5, 1.0, 3.0)),
        clamp_ms=rand.choice((0.0, 0.0, 0.0, 0.1, 0.25, 0.5)),
        resolution_m=rand.choice((0.0, 0.02, 0.2, 1.8)) if quality != "fine" else 0.0,
        faults=_faults(rand, duration_s, quality, hdop),
    )


def _faults(rand: Random, duration_s: float, quality: str, hdop: float) -> tuple[GnssFault, ...]:
    excursions, steps, outliers, dropouts = _PER_NIGHT[quality]
    nights = duration_s / 28_800
    faults: list[GnssFault] = []
    for _ in range(_count(rand, excursions * nights)):
        size = min(50.0, 5.0 + rand.expovariate(1 / 10.0))
        rise = hdop_rise_for(size, hdop) if rand.random() < 0.6 else 0.0
        faults.append(_fault(rand, "multipath", duration_s, rand.uniform(10, 100), size, rise))
    for _ in range(_count(rand, steps * nights)):
        size = rand.uniform(1.0, 4.0 if quality == "fine" else 8.0)
        faults.append(_fault(rand, "step", duration_s, 0.0, size, 0.0))
    for _ in range(_count(rand, outliers * nights)):
        size = 10.0 ** rand.uniform(1.2, 3.0)
        faults.append(_fault(rand, "outlier", duration_s, rand.choice((1.0, 1.0, 3.0)), size, 0.0))
    for _ in range(_count(rand, dropouts * nights)):
        long = rand.random() < 0.1
        lasts = rand.uniform(600, 2400) if long else min(600.0, 5 + rand.expovariate(1 / 60.0))
        faults.append(_fault(rand, "dropout", duration_s, lasts, 0.0, 0.0))
    return tuple(sorted(faults, key=lambda f: f.start_s))


def _fault(
    rand: Random, kind: str, night_s: float, lasts_s: float, size_m: float, rise: float
) -> GnssFault:
    east, north = _in_some_direction(rand, size_m)
    return GnssFault(
        kind=kind,
        start_s=rand.uniform(0.0, night_s),
        duration_s=lasts_s,
        east_m=east,
        north_m=north,
        hdop_rise=rise,
    )


def _in_some_direction(rand: Random, size_m: float) -> tuple[float, float]:
    angle = rand.uniform(0.0, 2 * pi)
    return size_m * sin(angle), size_m * cos(angle)


def _count(rand: Random, mean: float) -> int:
    """A Poisson number, by waiting times."""
    number = 0
    waited = rand.expovariate(1.0)
    while waited < mean:
        number += 1
        waited += rand.expovariate(1.0)
    return number
