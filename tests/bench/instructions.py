"""Instructions that a sentence and a grid second take, counted by valgrind: the same on a busy day.

    python -m tests.bench.instructions [--sentences 2000] [--ticks 20] [--json]

hot_path.py is run under callgrind with a few and with more of each; the difference is divided.
Counts hold for one build of Python and its C library, to about a percent. Beside them the yard:
a thousand look-ups in a plain loop, so that another interpreter can be set against this one.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.bench import full_load
from tests.bench.measuring import Figures, asked, tell

MINUTES = 1.0  # of log; the engine hears half of it first


def counted(*command: str) -> int:
    """Instructions of this Python command."""
    valgrind = shutil.which("valgrind")
    assert valgrind, "valgrind is needed (Debian package valgrind)"
    said = subprocess.run(
        [valgrind, "--tool=callgrind", "--callgrind-out-file=/dev/null", sys.executable, *command],
        check=True, capture_output=True, text=True, env={**os.environ, "PYTHONHASHSEED": "0"},
    ).stderr  # fmt: skip
    found = re.search(r"Collected : (\d+)", said)
    assert found is not None, said
    return int(found[1])


def each(few: int, more: int, *command: str) -> float:
    """Instructions of one, from the difference between few and more of them."""
    counts = [counted(*command, str(size)) for size in (few, more)]
    return (counts[1] - counts[0]) / (more - few)


def measure(sentences: int, ticks: int) -> Figures:
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "full.nmea"
        full_load.write(path, MINUTES)
        hot = ("-m", "tests.bench.hot_path", str(path))
        yard = (counted("-c", _yard(110)) - counted("-c", _yard(10))) / 100
        sentence = each(sentences // 10, sentences, *hot, "sentence")
        tick = each(max(1, ticks // 10), ticks, *hot, "tick")
    return {
        "instructions_a_sentence": round(sentence),
        "instructions_a_tick": round(tick),
        "instructions_a_yard": round(yard),
        "sentence_in_yards": sentence / yard,
        "tick_in_yards": tick / yard,
        "python": sys.version.partition(" ")[0],
    }


def _yard(rounds: int) -> str:
    return (
        "t = {str(n): n for n in range(1000)}\n"
        f"for _ in range({rounds}): total = sum(t[key] for key in t)"
    )


if __name__ == "__main__":
    args = asked(__doc__, sentences=2000, ticks=20)
    tell(measure(args.sentences, args.ticks), args.json)
