"""Metres of excess by odds: what a holding boat shows once in so many simulated nights.

Made by the project's own nights; the command that makes it stands in tests/drag/campaign.py
(`table FILE` prints these rows). Between rows the logarithm of the nights is interpolated;
beyond the last one it is carried on, which is an extrapolation and is called one.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from itertools import pairwise

# Inputs -> ((nights for one false alarm, metres), ...).
# "all": 1,120 nights that hold, 560 seeds from 600000 and from 700000. Nothing had been tuned by
# them, but the bound on way astern was then chosen by the worst 44 of them.
# "no wind": 350 nights from 300000, tuned by, the last figure carried on with some room.
# "bare" (position and nothing else): 360 nights, seeds from 100000, tuned by.
# Both were then held to 1,100 nights from 800000, which nothing was tuned by: those gave 7.7 and
# 8.4 m for one in 365.
ROWS: dict[str, tuple[tuple[float, float], ...]] = {
    "all": ((10.0, 4.1), (30.0, 6.0), (100.0, 9.4), (365.0, 11.6)),
    "no wind": ((10.0, 2.6), (30.0, 4.1), (100.0, 5.7), (365.0, 8.0)),
    "bare": ((10.0, 3.5), (30.0, 4.3), (100.0, 6.3), (365.0, 10.6)),
}


def row_for(missing: Collection[str]) -> str:
    """Which row goes with what is missing."""
    if "wind" not in missing:
        return "all"
    return "bare" if "speed" in missing else "no wind"


def limit_m(nights: float, missing: Collection[str]) -> float:
    """Threshold (m) for one false alarm in so many nights with what is missing."""
    row = ROWS[row_for(missing)]
    for (low, low_m), (high, high_m) in pairwise(row):
        if nights <= high or (high, high_m) == row[-1]:
            share = math.log(max(nights, 1.0) / low) / math.log(high / low)
            return max(2.0, low_m + share * (high_m - low_m))
    raise AssertionError("a row has at least two entries")
