"""One of the two hot paths so many times, for counting its instructions (instructions.py).

    python -m tests.bench.hot_path RECORDING sentence|tick COUNT

The engine with the demo's orders at anchor hears the recording's first half. Then `sentence`: so
many of its next lines within one grid second; `tick`: so many grid seconds without a line.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from demo import night
from tests.bench import full_load

from shipkeeper.engine import Engine
from shipkeeper.rehearse.recording import Recording
from shipkeeper.words.events import Command, Line, Tick


def play(path: Path, what: str, count: int) -> int:
    """Returns how many were played."""
    events = [event for event in Recording(path).events() if type(event) is Line]
    with tempfile.TemporaryDirectory() as folder:
        orders = full_load.orders(Path(folder))
    half = len(events) // 2
    engine = Engine(orders, events[0].at_s)
    place = night.ANCHOR
    args = {"how": "at", "lat": place.lat, "lon": place.lon, "rode_m": 40.0, "depth_m": 7.2}
    engine.handle(Command(events[0].at_s, number=1, verb="anchor", args=args))
    for event in events[:half]:
        engine.handle(event)
    now_s = float(int(events[half - 1].at_s)) + 1.0
    engine.handle(Tick(now_s))
    if what == "tick":
        for number in range(count):
            engine.handle(Tick(now_s + 1.0 + number))
        return count
    lines = [Line(now_s + 0.5, event.input, event.text) for event in events[half : half + count]]
    for line in lines:
        engine.handle(line)
    return len(lines)


if __name__ == "__main__":
    play(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]))
