"""Tide and stream of a night as knots, for drawn and for scripted nights alike.

One constituent only, the lunar half-day of 12.42 h: enough for a turn of the tide in the night.
"""

from math import cos, pi, sin
from random import Random

from shipkeeper.simulate.plan import StreamKnot, TideKnot

TIDE_PERIOD_S = 12.42 * 3600


def tide(half_range_m: float, phase: float, duration_s: float) -> tuple[TideKnot, ...]:
    """Height over that at time 0, every ten minutes; phase in radians, pi/2 is high water."""
    return tuple(
        TideKnot(t, half_range_m * (sin(phase + 2 * pi * t / TIDE_PERIOD_S) - sin(phase)))
        for t in _every(600.0, duration_s)
    )


def reversing_stream(
    most_ms: float,
    axis: float,
    phase: float,
    duration_s: float,
    eddies: float = 0.0,
    rand: Random | None = None,
) -> tuple[StreamKnot, ...]:
    """A stream along an axis (radians from north), every five minutes; phase 0 is slack before
    it sets along the axis. `eddies` is the standard deviation of what is added, over `most_ms`;
    it needs `rand`.
    """
    knots = []
    for t in _every(300.0, duration_s):
        along = most_ms * sin(phase + 2 * pi * t / TIDE_PERIOD_S)
        across = 0.0
        if rand is not None:
            along += rand.gauss(0.0, eddies * most_ms)
            across = rand.gauss(0.0, eddies * most_ms)
        east = along * sin(axis) + across * cos(axis)
        north = along * cos(axis) - across * sin(axis)
        knots.append(StreamKnot(t, east, north))
    return tuple(knots)


def _every(step_s: float, duration_s: float) -> list[float]:
    return [i * step_s for i in range(int(duration_s / step_s) + 2)]
