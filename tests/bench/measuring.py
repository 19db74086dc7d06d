"""How the benchmarks measure and print: processor time, in turn with a reference, medians.

The machine is never quiet and never the same, so no figure stands alone: what is measured and
its reference run in turn (A B A B), and their ratio is what is held to the goal. Where there is
no other reference, the yardstick is: a fixed piece of plain Python.
"""

from __future__ import annotations

import argparse
import gc
import json
import math
import statistics
import time
from collections.abc import Callable
from typing import Any

Figures = dict[str, Any]


def processor_s(work: Callable[[], object]) -> float:
    """Processor seconds of this process while `work` runs."""
    gc.collect()
    began_s = time.process_time()
    work()
    return time.process_time() - began_s


def in_turn(rounds: int, **works: Callable[[], object]) -> dict[str, list[float]]:
    """Processor seconds of each, in turn, `rounds` times; one turn before is not counted, for
    what is loaded and remembered by the first."""
    took: dict[str, list[float]] = {name: [] for name in works}
    for turn in range(rounds + 1):
        for name, work in works.items():
            spent_s = processor_s(work)
            if turn:
                took[name].append(spent_s)
    return took


def ratio(took: dict[str, list[float]], of: str, to: str) -> float:
    """Median of the ratios turn by turn: what slows the machine slows both."""
    return statistics.median(a / b for a, b in zip(took[of], took[to], strict=True))


def yardstick() -> None:
    """A tenth of a second of plain Python, or so: look-ups, sums, a call, small objects."""
    table = {str(n): float(n) for n in range(1000)}
    keys = list(table)
    total = 0.0
    for _ in range(3000):
        for key in keys:
            total += table[key] if key else abs(total)


def yardstick_s(rounds: int = 5) -> float:
    return statistics.median(processor_s(yardstick) for _ in range(rounds))


def quantile(values: list[float], share: float) -> float:
    """The value that `share` of them do not exceed (nearest rank)."""
    ranked = sorted(values)
    return ranked[max(1, math.ceil(share * len(ranked))) - 1]


def asked(about: str | None, **defaults: float) -> argparse.Namespace:
    """--json, and a number for each default; the script's first line says what it is for."""
    parser = argparse.ArgumentParser(description=(about or "").partition("\n")[0])
    parser.add_argument("--json", action="store_true", help="one JSON object instead of lines")
    for name, value in defaults.items():
        parser.add_argument(
            f"--{name.replace('_', '-')}", type=type(value), default=value, help="%(default)s"
        )
    return parser.parse_args()


def tell(figures: Figures, as_json: bool) -> None:
    """One line a figure, or one JSON object."""
    if as_json:
        print(json.dumps(figures))
        return
    for name, value in figures.items():
        print(f"{name.replace('_', ' '):<46} {_shown(value)}")


def _shown(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.4g}" if abs(value) < 1000 else f"{value:.0f}"
    if isinstance(value, list | tuple):
        return "  ".join(_shown(v) for v in value)
    return str(value)
