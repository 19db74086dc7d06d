"""How many seconds of a full-load night are rehearsed in one second of processor time.

    python -m tests.bench.real_time_factor [--minutes 5] [--rounds 3] [--json]

The whole rehearsal from the file, with the demo's orders. Beside it the yardstick of plain Python
(measuring.py), in turn, so that figures of two machines can be compared, and the same for the
seconds alone: a log with GNSS, heading, wind and depth, no ships. Goal: 1,500.
"""

from __future__ import annotations

import statistics
import tempfile
from pathlib import Path

from tests.bench import full_load
from tests.bench.measuring import Figures, asked, in_turn, ratio, tell, yardstick

from shipkeeper.rehearse.tasks import Task, perform


def measure(minutes: float, rounds: int) -> Figures:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        full, boat = folder / "full.nmea", folder / "boat.nmea"
        sentences = full_load.write(full, minutes)
        kept = [line for line in full.read_text().splitlines(True) if line.startswith("\\s:boat")]
        boat.write_text("".join(kept))
        orders = full_load.orders(folder)
        loaded, alone = (Task((path,), orders, full_load.START) for path in (full, boat))
        took = in_turn(
            rounds, full=lambda: perform(loaded), boat=lambda: perform(alone), yard=yardstick
        )
    log_s = minutes * 60.0
    return {
        "sentences": sentences,
        "log_s": log_s,
        "real_time_factor": log_s / statistics.median(took["full"]),
        "goal": 1500,
        "real_time_factor_without_ships": log_s / statistics.median(took["boat"]),
        "sentences_a_processor_second": sentences / statistics.median(took["full"]),
        "yardsticks_an_hour_of_log": ratio(took, "full", "yard") * 3600.0 / log_s,
    }


if __name__ == "__main__":
    args = asked(__doc__, minutes=5.0, rounds=3)
    tell(measure(args.minutes, args.rounds), args.json)
