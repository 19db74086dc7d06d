"""Odds of the drag rule: many simulated nights, how often it cries wolf and how late it sees.

The nights come from simulate/, which shares no formula with the rule; what is given (rode, depth,
wind, receiver) is held fast, all else is drawn. A night gives the highest excess while she held
and, after a drag began, how far the anchor had come when the limit was first passed.
"""

from __future__ import annotations

import math
import multiprocessing
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from typing import Any

import msgspec

from ..rules.anchoring.estimator import AnchorEstimator
from ..rules.anchoring.setting import AnchorSetting
from ..rules.drag_odds import limit_m
from ..simulate import QUALITIES, NightPlan, Sample, random_plan, simulate

__all__ = ["DRAG_CLASSES", "QUALITIES", "Given", "Outcome", "interval", "run", "summary"]

DRAG_CLASSES = ("creep", "steady", "run", "veer", "parted")
WORST_M = 400.0
LONGEST_S = 3 * 3600.0
SURE = 0.95


class Given(msgspec.Struct, frozen=True, kw_only=True):
    """What is held fast; None is drawn anew for each night. without: wind heading depth speed."""

    rode_m: float | None = None
    depth_m: float | None = None
    wind_ms: float | None = None
    gnss: str | None = None
    without: tuple[str, ...] = ()
    margin_m: float | None = None
    nights: float = 365.0

    @property
    def limit_m(self) -> float:
        """Excess (m) at which the alarm comes under these orders."""
        return self.margin_m if self.margin_m is not None else limit_m(self.nights, self.without)


class Outcome(msgspec.Struct, frozen=True):
    """One night. dragged_m: None when there was no drag, infinity when it was never raised."""

    drag: str
    false_alarm: bool
    dragged_m: float | None = None


def plan_of(seed: int, drag: str, given: Given) -> NightPlan | None:
    """A night as given; None when it cannot be (a rode that does not reach the bottom)."""
    plan = random_plan(seed, drag, gnss_class=given.gnss)
    rode, depth = plan.rode, plan.depth_m
    if given.rode_m is not None:
        share = given.rode_m / rode.entered_m
        rode = msgspec.structs.replace(
            rode,
            length_m=rode.length_m * share,
            entered_m=given.rode_m,
            chain_m=rode.chain_m * share,
        )
    if given.depth_m is not None:
        depth = given.depth_m
    wind = plan.wind
    if given.wind_ms is not None:
        mean = sum(k.speed_ms for k in wind) / len(wind)
        gain = given.wind_ms / max(mean, 0.1)
        wind = tuple(msgspec.structs.replace(k, speed_ms=k.speed_ms * gain) for k in wind)
    plan = msgspec.structs.replace(plan, rode=rode, depth_m=depth, wind=wind)
    high = plan.bow_over_bottom_m + max((k.height_m for k in plan.tide), default=0.0)
    low = plan.depth_m + min((k.height_m for k in plan.tide), default=0.0)
    if low < 0.6 or plan.rode.length_m < 1.1 * high:
        plan = msgspec.structs.replace(plan, tide=())
    if plan.rode.length_m < 1.1 * plan.bow_over_bottom_m:
        return None
    return plan


def one_night(seed: int, drag: str, given: Given) -> Outcome | None:
    """Simulate and judge one night; None when it cannot be as given."""
    plan = plan_of(seed, drag, given)
    if plan is None:
        return None
    estimator, limit = AnchorEstimator(setting_of(plan)), given.limit_m
    start = plan.drag_start_s
    for sample in simulate(plan):
        excess = _feed(estimator, plan, sample, given.without)
        if start is None or sample.t_s < start:
            if excess > limit:
                return Outcome(drag, True)
        elif excess > limit:
            return Outcome(drag, False, sample.dragged_m)
        elif sample.dragged_m > WORST_M or sample.t_s > start + LONGEST_S:
            break
    return Outcome(drag, False, None if start is None else math.inf)


def setting_of(plan: NightPlan) -> AnchorSetting:
    """What the skipper of that night would have told the watch."""
    boat, rode = plan.boat, plan.rode
    return AnchorSetting(
        rode_m=rode.entered_m,
        depth_m=plan.depth_m,
        bow_height_m=boat.bow_height_m,
        length_m=boat.length_m,
        beam_m=boat.beam_m,
        rode_kind="chain" if rode.chain_m >= rode.length_m - 0.01 else "mixed",
        chain_size_m=rode.chain_mm / 1000.0,
        antenna_aft_m=boat.antenna_from_bow_m,
        antenna_starboard_m=boat.antenna_to_starboard_m,
    )


def _feed(
    estimator: AnchorEstimator, plan: NightPlan, sample: Sample, without: Sequence[str]
) -> float:
    """The excess after this sample; nothing when there was no fix."""
    if sample.fix_x_m is None or sample.fix_y_m is None:
        estimator.idle(sample.t_s)
        return -math.inf
    heading = None if "heading" in without else sample.heading_deg
    wind = None if "wind" in without else sample.wind_speed_ms
    wind_from = None
    if wind is not None and heading is not None and sample.wind_from_rel_deg is not None:
        wind_from = (heading + sample.wind_from_rel_deg) % 360.0
    estimate = estimator.step(
        sample.t_s,
        sample.fix_x_m - plan.mark_x_m,
        sample.fix_y_m - plan.mark_y_m,
        None if "speed" in without else sample.sog_ms,
        None if "speed" in without else sample.cog_deg,
        sample.hdop,
        heading,
        wind,
        wind_from,
        None if "depth" in without else sample.depth_m,
    )
    return estimate.excess_m


def run(
    given: Given,
    *,
    nights: int,
    each: int,
    seed: int = 1,
    jobs: int = 1,
    progress: Callable[[int], None] | None = None,
) -> list[Outcome]:
    """That many nights that hold and, of each class, that many with a drag; in order."""
    todo = [(seed + n, "none", given) for n in range(nights)]
    todo += [(seed + n, drag, given) for n in range(each) for drag in DRAG_CLASSES]
    outcomes: list[Outcome] = []

    def take(found: Sequence[Outcome | None] | Any) -> None:
        for done, outcome in enumerate(found, 1):
            if outcome is not None:
                outcomes.append(outcome)
            if progress is not None:
                progress(done)

    if jobs <= 1:
        take(one_night(*task) for task in todo)
        return outcomes
    with ProcessPoolExecutor(jobs, mp_context=multiprocessing.get_context("spawn")) as pool:
        take(pool.map(_one, todo, chunksize=2))
    return outcomes


def _one(task: tuple[int, str, Given]) -> Outcome | None:
    return one_night(*task)


def summary(outcomes: Sequence[Outcome], given: Given) -> dict[str, Any]:
    """Counts, odds with their interval (95 %), and metres dragged by class."""
    nights = len(outcomes)
    false = sum(o.false_alarm for o in outcomes)
    low, high = interval(false, nights)
    drags: dict[str, Any] = {}
    for drag in DRAG_CLASSES:
        got = sorted(o.dragged_m for o in outcomes if o.drag == drag and o.dragged_m is not None)
        if not got:
            continue
        missed = sum(math.isinf(m) for m in got)
        first, last = middle_ranks(len(got))
        drags[drag] = {
            "nights": len(got),
            "median_m": _finite(got[len(got) // 2]),
            "median_from_m": _finite(got[first]),
            "median_to_m": _finite(got[last]),
            "nine_in_ten_m": _finite(got[min(len(got) - 1, int(0.9 * len(got)))]),
            "missed": missed,
            "missed_at_most": interval(missed, len(got))[1],
        }
    return {
        "limit_m": round(given.limit_m, 2),
        "nights": nights,
        "false_alarms": false,
        "per_night": false / nights if nights else None,
        "per_night_from": low,
        "per_night_to": high,
        "sure": SURE,
        "drags": drags,
    }


def interval(hits: int, of: int, sure: float = SURE) -> tuple[float, float]:
    """Clopper-Pearson interval of a share (Clopper & Pearson, Biometrika 26, 1934).

    (0, 1) when nothing was tried.
    """
    if of == 0:
        return 0.0, 1.0
    tail = (1.0 - sure) / 2.0
    low = 0.0 if hits == 0 else _solve(lambda p: 1.0 - _at_most(hits - 1, of, p), tail)
    high = 1.0 if hits == of else _solve(lambda p: 1.0 - _at_most(hits, of, p), 1.0 - tail)
    return low, high


def middle_ranks(of: int, sure: float = SURE) -> tuple[int, int]:
    """Ranks (from 0) between which the true median lies, by the binomial distribution."""
    tail = (1.0 - sure) / 2.0
    rank = 0
    while rank < of // 2 and _at_most(rank, of, 0.5) <= tail:
        rank += 1
    first = max(0, rank - 1)
    return first, of - 1 - first


def _at_most(hits: int, of: int, p: float) -> float:
    """Chance of at most so many hits."""
    if p <= 0.0:
        return 1.0
    if p >= 1.0:
        return 1.0 if hits >= of else 0.0
    logs = (
        math.lgamma(of + 1) - math.lgamma(k + 1) - math.lgamma(of - k + 1)
        + k * math.log(p) + (of - k) * math.log1p(-p)
        for k in range(hits + 1)
    )  # fmt: skip
    return min(1.0, sum(math.exp(x) for x in logs))


def _solve(rising: Callable[[float], float], wanted: float) -> float:
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if rising(middle) < wanted:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def _finite(metres: float) -> float | None:
    return None if math.isinf(metres) else round(metres, 1)
