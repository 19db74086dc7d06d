"""Simulated nights kept on disk as compact arrays, so that a campaign reads them many times.

A night is (plan, rows): one float32 row a sample, columns COLUMNS, positions in metres about the
*mark* (that is how the rule sees the world), NaN where an instrument was silent. Nights with a
drag are cut off when the anchor has gone far enough, or three hours after it began.
"""

import hashlib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import msgspec
import numpy as np
from numpy.typing import NDArray

from shipkeeper.simulate import NightPlan, Sample, random_plan, simulate
from shipkeeper.simulate import __file__ as simulate_file

COLUMNS = (
    "t", "x", "y", "sog", "cog", "hdop", "heading", "wind", "wind_rel", "depth", "anchor_x",
    "anchor_y", "bow_x", "bow_y", "dragged",
)  # fmt: skip
FAR_M = 320.0
LONG_S = 3 * 3600.0
Rows = NDArray[np.float32]


@cache
def version() -> str:
    """Short digest of the simulator's sources: nights of another simulator are not the same."""
    digest = hashlib.sha256()
    for path in sorted(Path(simulate_file).parent.glob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:10]


def _row(plan: NightPlan, s: Sample) -> tuple[float | None, ...]:
    mx, my = plan.mark_x_m, plan.mark_y_m
    return (
        s.t_s,
        None if s.fix_x_m is None else s.fix_x_m - mx,
        None if s.fix_y_m is None else s.fix_y_m - my,
        s.sog_ms, s.cog_deg, s.hdop, s.heading_deg, s.wind_speed_ms, s.wind_from_rel_deg,
        s.depth_m, s.anchor_x_m - mx, s.anchor_y_m - my, s.bow_x_m - mx, s.bow_y_m - my,
        s.dragged_m,
    )  # fmt: skip


def make(seed: int, drag: str) -> tuple[NightPlan, Rows]:
    """Simulate one night now."""
    plan = random_plan(seed, drag)
    start = plan.drag_start_s
    rows = []
    for sample in simulate(plan):
        rows.append(_row(plan, sample))
        if start is not None and (sample.dragged_m > FAR_M or sample.t_s > start + LONG_S):
            break
    return plan, np.array(rows, dtype=np.float32)


def night(folder: Path, seed: int, drag: str) -> tuple[NightPlan, Rows]:
    """One night from the folder, made and kept there when it is not yet."""
    place = folder / version() / drag
    data, plan_file = place / f"{seed}.npy", place / f"{seed}.json"
    if data.exists() and plan_file.exists():
        plan = msgspec.json.decode(plan_file.read_bytes(), type=NightPlan)
        return plan, np.load(data)
    plan, rows = make(seed, drag)
    place.mkdir(parents=True, exist_ok=True)
    np.save(data, rows)
    plan_file.write_bytes(msgspec.json.encode(plan))
    return plan, rows


def nights(folder: Path, seeds: range, drag: str) -> Iterator[tuple[NightPlan, Rows]]:
    """Nights by seed, in order."""
    for seed in seeds:
        yield night(folder, seed, drag)
