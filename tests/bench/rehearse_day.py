"""How long a day's recording takes to rehearse, and how much memory: 24 h at 10 sentences a second.

Run: python -m tests.bench.rehearse_day [hours]. Makes the recording in a folder of its own (some
minutes: a day at anchor is simulated), rehearses it with the demo's orders on one core, and prints
seconds and the growth of memory. What must hold: a day in under 60 s on this class of machine,
memory flat (issue 'rehearse', to hold).

The sentences are the demo's: GNSS, heading and wind each second, depth each other second, our own
transponder, and ships at anchor and under way about us, as many as it takes for ten a second.
"""

from __future__ import annotations

import resource
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from demo import night, sentences

from shipkeeper.app.kinds import KINDS
from shipkeeper.orders import load
from shipkeeper.rehearse.rehearsal import Start
from shipkeeper.rehearse.tasks import Task, perform
from shipkeeper.simulate.night import simulate
from shipkeeper.simulate.plan import Boat, Gnss, NightPlan, Rode, StreamKnot, TideKnot, WindKnot
from shipkeeper.words.geo import from_east_north

HOUR_S = 3600.0
A_SECOND = 10
SHIPS = 55  # of these every fifth makes way and reports each ten seconds, the others each three


def plan(hours: float) -> NightPlan:
    """A day at anchor: two tides, the wind up and down, nothing drags."""
    knots = range(int(hours) + 2)
    return NightPlan(
        seed=3,
        duration_s=hours * HOUR_S,
        boat=Boat(length_m=11.4, beam_m=3.6, antenna_from_bow_m=8.9, bow_height_m=1.3),
        rode=Rode(length_m=40.0, entered_m=40.0, chain_m=40.0, chain_mm=8.0),
        depth_m=6.0,
        wind=tuple(WindKnot(h * HOUR_S, 4.0 + 3.0 * (h % 5), 200.0 + 8.0 * h) for h in knots),
        stream=tuple(StreamKnot(h * HOUR_S, 0.3 * (1 if h % 12 < 6 else -1), 0.3) for h in knots),
        tide=tuple(TideKnot(h * HOUR_S, (0.0, 1.0, 2.0, 2.2, 1.4, 0.4)[h % 6]) for h in knots),
        gnss=Gnss(quality="ordinary"),
    )


def second(number: int, lines: list[str]) -> Iterator[str]:
    """The ten lines of one second: the boat's own first, then as many ships as there is room."""
    at_s = night.START + number
    for line in lines:
        yield sentences.tagged(line, "boat", at_s)
    for slot in range(A_SECOND - len(lines)):
        ship = (number * 5 + slot) % SHIPS
        moving = ship % 5 == 0
        run_m = (number * 4.0 + ship * 700.0) % 12_000.0 - 6000.0
        east = run_m if moving else 300.0 * (ship % 9 - 4) + 150.0
        north = 900.0 + 120.0 * ship
        place = from_east_north(night.ANCHOR, east, north)
        for line in sentences.ais_position(
            299_100_000 + ship, place.lat, place.lon, 4.0 if moving else 0.0, 90.0,
            nav_status=0 if moving else 1, class_b=not moving, second=number % 60,
        ):  # fmt: skip
            yield sentences.tagged(line, "ais", round(at_s + 0.3 + 0.1 * slot, 3))


def record(path: Path, hours: float) -> int:
    count = 0
    with path.open("w") as file:
        for sample in simulate(plan(hours)):
            for line in second(round(sample.t_s), night.boat_sentences(sample)):
                file.write(line + "\n")
                count += 1
    return count


def orders_file(folder: Path) -> Path:
    text = (Path(night.__file__).parent / "orders.toml").read_text()
    head, _, rest = text.partition("[[input]]")
    path = folder / "orders.toml"
    path.write_text(head + rest[rest.index("[[zone]]") : rest.index("[[outlet]]")])
    return path


def memory_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def main(hours: float) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "day.nmea"
        lines = record(path, hours)
        orders = load(orders_file(folder), KINDS)
        task = Task((path,), orders, Start(anchor=night.ANCHOR, rode_m=40.0, depth_m=7.2),
                    path.stat().st_size)  # fmt: skip
        seen: list[tuple[int, float]] = []
        began_s, began_cpu_s = time.perf_counter(), time.process_time()
        outcome = perform(task, lambda read: seen.append((read, memory_mb())))
        took_s, cpu_s = time.perf_counter() - began_s, time.process_time() - began_cpu_s
        early = next(mb for read, mb in seen if read >= 0.1 * task.bytes)
        print(
            f"{lines} sentences over {hours:g} h ({lines / hours / HOUR_S:.1f} a second), "
            f"{len(outcome.told)} transitions: {took_s:.1f} s, {cpu_s:.1f} s of processor, "
            f"{lines / cpu_s:.0f} sentences a second; memory {early:.0f} MB at a tenth, "
            f"{seen[-1][1]:.0f} MB at the end"
        )
        assert outcome.lines == lines


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 24.0)
