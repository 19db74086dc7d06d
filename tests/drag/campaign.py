"""Many simulated nights through the drag rule's mathematics: odds of a false alarm, metres dragged.

    PYTHONPATH=daemon:. python -m tests.drag.campaign run --nights 1000 --each 200 --out FILE
    PYTHONPATH=daemon:. python -m tests.drag.campaign table FILE

`run` appends one JSON line for each night and each set of inputs, and skips those that the file
has already, so it can be stopped and gone on with. `table` chooses thresholds by odds and prints
the distances beside those of a plain circle about the mark at the same odds.
"""

import argparse
import json
import math
import os
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
from tests.drag.nights import make
from tests.drag.nights import night as kept_night
from tests.drag.trial import MASKS, circle, lasting, rungs, series

from shipkeeper.rehearse.odds import DRAG_CLASSES
from shipkeeper.rules.drag_reckoned import NET_BEYOND_M, NET_DWELL_S

FIRST_SEED = 100_000
KEEP = Path(os.environ["NIGHTS"]) if "NIGHTS" in os.environ else None  # a folder to keep them in


def one_night(task: tuple[str, int, tuple[str, ...]]) -> dict[str, Any]:
    """Highest statistic (before a drag) and ladder of each method for one night."""
    drag, seed, inputs = task
    plan, rows = kept_night(KEEP, seed, drag) if KEEP is not None else make(seed, drag)
    start = plan.drag_start_s
    methods: dict[str, Any] = {}
    for name in inputs:
        out = series(plan, rows, MASKS[name], ("excess_m", "circle_m"))
        net = lasting(out[:, 1], int(NET_DWELL_S)) - NET_BEYOND_M
        methods[name] = rungs(np.fmax(out[:, 0], net), rows, start)
    for dwell in (30,):
        methods[f"circle {dwell}"] = rungs(circle(plan, rows, dwell, False), rows, start)
        methods[f"circle {dwell} bow"] = rungs(circle(plan, rows, dwell, True), rows, start)
    return {
        "drag": drag, "seed": seed, "weather": plan.weather_class, "gnss": plan.gnss_class,
        "mark": plan.mark_class, "far": float(rows[-1, 14]),
        "methods": {
            k: [round(max(b, -999.0), 2), [[round(v, 2) for v in r] for r in ladder]]
            for k, (b, ladder) in methods.items()
        },
    }  # fmt: skip


def tasks(
    nights: int, each: int, inputs: tuple[str, ...], first: int, done: set[tuple[str, int]]
) -> Iterator[tuple[str, int, tuple[str, ...]]]:
    """Holding nights and drags in turn, so that a stopped run is of use."""
    share = max(1, nights // max(1, each))
    quiet = first
    for number in range(max(each, math.ceil(nights / share))):
        for _ in range(share):
            if quiet < first + nights:
                if ("none", quiet) not in done:
                    yield "none", quiet, inputs
                quiet += 1
        if number < each:
            for drag in DRAG_CLASSES:
                if (drag, first + number) not in done:
                    yield drag, first + number, inputs


def run(args: argparse.Namespace) -> None:
    """Fill the file."""
    out = Path(args.out)
    done = {(n["drag"], n["seed"]) for n in read(out)} if out.exists() else set()
    inputs = tuple(args.inputs.split(","))
    todo = list(tasks(args.nights, args.each, inputs, args.first, done))
    if args.seeds:
        wanted = {int(seed) for seed in Path(args.seeds).read_text().split()}
        todo = [t for t in todo if t[0] != "none" or t[1] in wanted]
    began = time.monotonic()
    with ProcessPoolExecutor(args.jobs) as pool, out.open("a") as file:
        for number, night in enumerate(pool.map(one_night, todo, chunksize=4), 1):
            file.write(json.dumps(night) + "\n")
            if number % 50 == 0:
                file.flush()
                left = (time.monotonic() - began) / number * (len(todo) - number)
                print(f"{number} of {len(todo)}, {left / 60:.0f} min left", file=sys.stderr)


def read(path: Path) -> list[dict[str, Any]]:
    """All nights of the file; a cut last line is passed over."""
    found = []
    for line in path.read_text().splitlines():
        try:
            found.append(json.loads(line))
        except ValueError:
            continue
    return found


def threshold(highest: list[float], nights_per_alarm: float) -> float:
    """Least threshold with at most one alarm in so many nights among these."""
    allowed = int(len(highest) / nights_per_alarm)
    return sorted(highest, reverse=True)[allowed] if allowed < len(highest) else math.inf


def distances(nights: list[dict[str, Any]], method: str, limit: float) -> list[float]:
    """Metres dragged when raised in each night; infinity when never. Early alarms count 0."""
    found = []
    for night in nights:
        before, ladder = night["methods"][method]
        if before > limit:
            continue  # false before it began: counted among the false ones, not here
        found.append(next((metres for value, metres, _ in ladder if value > limit), math.inf))
    return found


def row(nights: list[dict[str, Any]], method: str, limit: float) -> str:
    """Median / 90 % and the share missed, for each class."""
    parts = []
    for drag in DRAG_CLASSES:
        got = sorted(distances([n for n in nights if n["drag"] == drag], method, limit))
        if not got:
            parts.append("-")
            continue
        middle, far = got[len(got) // 2], got[min(len(got) - 1, int(0.9 * len(got)))]
        missed = sum(math.isinf(g) for g in got) / len(got)
        parts.append(f"{middle:5.0f} /{far:5.0f} {100 * missed:4.1f}%")
    return " | ".join(f"{p:>18}" for p in parts)


def table(args: argparse.Namespace) -> None:
    """Print the comparison at 1 in 365 and 1 in 30."""
    nights = read(Path(args.file))
    quiet = [n for n in nights if n["drag"] == "none"]
    print(f"{len(quiet)} holding nights; " + ", ".join(
        f"{sum(n['drag'] == d for n in nights)} {d}" for d in DRAG_CLASSES))  # fmt: skip
    for odds in (365.0, 30.0):
        print(f"1 false alarm in {odds:.0f} nights: median / 90 %, missed")
        print(f"{'':>16} {'limit':>6} " + " | ".join(f"{d:>18}" for d in DRAG_CLASSES))
        for method in nights[0]["methods"]:
            limit = threshold([n["methods"][method][0] for n in quiet], odds)
            print(f"{method:>16} {limit:6.1f} {row(nights, method, limit)}")

    print("rows for rules/drag_odds.py (nights, metres):")
    for method in ("all", "gnss", "bare"):
        if method in nights[0]["methods"]:
            highest = [n["methods"][method][0] for n in quiet]
            rows = [(odds, round(threshold(highest, odds), 1)) for odds in (10, 30, 100, 365)]
            print(f"  {method}: {rows}")


def main() -> None:
    """Arguments."""
    parser = argparse.ArgumentParser(description=__doc__)
    verbs = parser.add_subparsers(required=True)
    runner = verbs.add_parser("run")
    runner.add_argument("--nights", type=int, default=1000)
    runner.add_argument("--each", type=int, default=200)
    runner.add_argument("--inputs", default="all,gnss,bare")
    runner.add_argument("--first", type=int, default=FIRST_SEED)
    runner.add_argument("--jobs", type=int, default=2)
    runner.add_argument("--seeds", help="a file: only these of the holding nights")
    runner.add_argument("--out", required=True)
    runner.set_defaults(do=run)
    teller = verbs.add_parser("table")
    teller.add_argument("file")
    teller.set_defaults(do=table)
    args = parser.parse_args()
    args.do(args)


if __name__ == "__main__":
    main()
