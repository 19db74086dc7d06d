"""Our whole rehearsal of a full-load log, against pyais and pynmea2 merely decoding the same.

    python -m tests.bench.pipeline_ratio [--minutes 5] [--rounds 3] [--json]

Processor time of framing, decoding, picture, rules and alerts (the demo's orders), divided by
that of the two libraries at their quickest: lines already in memory and without TAG blocks,
checksums not looked at, the fields of NMEA 0183 left as text. Goal: at most 1.0; first step 1.5.
"""

from __future__ import annotations

import statistics
import tempfile
from pathlib import Path

import pyais
import pynmea2
from tests.bench import full_load
from tests.bench.measuring import Figures, asked, in_turn, ratio, tell

from shipkeeper.rehearse.tasks import Task, perform


def merely_decode(lines: list[str]) -> int:
    """Each sentence decoded by its library, and thrown away; returns how many."""
    first: dict[str, str] = {}
    count = 0
    for line in lines:
        if line[0] == "$":
            pynmea2.parse(line)
        elif line[7] == "1":
            pyais.decode(line)
        elif line[9] == "1":
            first[line[11]] = line
            continue
        else:
            pyais.decode(first.pop(line[11]), line)
        count += 1
    return count


def measure(minutes: float, rounds: int) -> Figures:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = folder / "full.nmea"
        sentences = full_load.write(path, minutes)
        bare = [line.rpartition("\\")[2] for line in path.read_text().splitlines()]
        task = Task((path,), full_load.orders(folder), full_load.START)
        heard = perform(task).lines
        assert heard == sentences, (heard, sentences)
        took = in_turn(rounds, ours=lambda: perform(task), libraries=lambda: merely_decode(bare))
    ours_s, libraries_s = (statistics.median(took[name]) for name in ("ours", "libraries"))
    return {
        "sentences": sentences,
        "log_s": minutes * 60.0,
        "rehearsal_us_a_sentence": 1e6 * ours_s / sentences,
        "merely_decoding_us_a_sentence": 1e6 * libraries_s / sentences,
        "pipeline_ratio": ratio(took, "ours", "libraries"),
        "goal": 1.0,
    }


if __name__ == "__main__":
    args = asked(__doc__, minutes=5.0, rounds=3)
    tell(measure(args.minutes, args.rounds), args.json)
