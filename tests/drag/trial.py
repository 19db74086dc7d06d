"""One night through the estimator or a plain circle, boiled down to what thresholds need.

The outcome of a night is a list of rungs (statistic, dragged metres at the time, seconds since
the drag began): each new highest value of the statistic after the start of the drag, and one
number for the time before. Any threshold can then be tried without running the night again.
"""

from math import nan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shipkeeper.rehearse.odds import setting_of
from shipkeeper.rules.anchoring.estimator import AnchorEstimator
from shipkeeper.simulate import NightPlan

Rows = NDArray[np.float32]
MASKS = {
    "all": "",
    "no heading": "h",
    "no depth": "d",
    "no doppler": "s",
    "no hdop": "q",
    "no wind": "w",
    "gnss": "hwd",  # position with speed, course and HDOP, as any receiver sends them
    "bare": "hwdsq",  # position and nothing else
}


def _some(value: float) -> float | None:
    return None if value != value else value


def series(plan: NightPlan, rows: Rows, mask: str, fields: tuple[str, ...]) -> NDArray[np.float64]:
    """Chosen fields of the estimate at every sample (NaN at those without a fix)."""
    estimator = AnchorEstimator(setting_of(plan))
    out: list[tuple[Any, ...]] = []
    none = (nan,) * len(fields)
    for row in rows.tolist():
        t, x, y, sog, cog, hdop, heading, wind, wind_rel, depth = row[:10]
        if x != x:
            estimator.idle(t)
            out.append(none)
            continue
        head = None if "h" in mask else _some(heading)
        speed = None if "w" in mask else _some(wind)
        direction = None
        if speed is not None and head is not None and wind_rel == wind_rel:
            direction = (head + wind_rel) % 360.0
        estimate = estimator.step(
            t, x, y,
            None if "s" in mask else _some(sog),
            None if "s" in mask else _some(cog),
            None if "q" in mask else _some(hdop),
            head, speed, direction,
            None if "d" in mask else _some(depth),
        )  # fmt: skip
        out.append(tuple(getattr(estimate, f) for f in fields))
    return np.array(out, dtype=np.float64)


def circle(plan: NightPlan, rows: Rows, dwell_s: int, by_bow: bool) -> NDArray[np.float64]:
    """Least distance beyond the taut reach in the last seconds, about the mark, fix by fix."""
    height = plan.bow_over_bottom_m
    taut = max(0.0, plan.rode.entered_m**2 - height**2) ** 0.5
    x, y = rows[:, 1].astype(float), rows[:, 2].astype(float)
    aft, side = plan.boat.antenna_from_bow_m, plan.boat.antenna_to_starboard_m
    if by_bow:
        angle = np.radians(rows[:, 6].astype(float))
        x = x + aft * np.sin(angle) - side * np.cos(angle)
        y = y + aft * np.cos(angle) + side * np.sin(angle)
        away = np.hypot(x, y) - taut
    else:
        away = np.hypot(x, y) - taut - aft
    return lasting(away, dwell_s)


def lasting(values: NDArray[np.float64], span_s: int) -> NDArray[np.float64]:
    """Least value of the last seconds; a value stands through the silent ones after it, and
    there is no verdict at a silent one."""
    silent = np.isnan(values)
    newest = np.maximum.accumulate(np.where(silent, 0, np.arange(len(values))))
    standing = np.where(np.isnan(values[newest]), -np.inf, values[newest])
    least = standing.copy()
    for lag in range(1, span_s + 1):
        least[lag:] = np.minimum(least[lag:], standing[:-lag])
    least[:span_s] = -np.inf
    return np.where(silent, -np.inf, least)


def rungs(
    statistic: NDArray[np.float64], rows: Rows, start_s: float | None
) -> tuple[float, list[tuple[float, float, float]]]:
    """(highest before the drag, ladder after it)."""
    value = np.where(np.isnan(statistic), -np.inf, statistic)
    if start_s is None:
        return float(value.max()), []
    t = rows[:, 0].astype(float)
    first = int(np.searchsorted(t, start_s))
    before = float(value[:first].max()) if first else -np.inf
    ladder = []
    best = -np.inf
    for i in range(first, len(value)):
        if value[i] > best:
            best = float(value[i])
            ladder.append((best, float(rows[i, 14]), float(t[i] - start_s)))
    return before, ladder


def raised(ladder: list[tuple[float, float, float]], limit: float) -> float | None:
    """Metres dragged when the statistic first went above the limit; None: never."""
    for value, metres, _ in ladder:
        if value > limit:
            return metres
    return None
