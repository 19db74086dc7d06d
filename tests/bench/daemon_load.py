"""What share of a core the real daemon takes, by the true clock: a quiet boat, and full load.

    python -m tests.bench.daemon_load [--window 60] [--json]

Two quiet states: nothing comes on the wire, and a quiet anchorage (a fix, heading and wind each
second, no ships). Then the full load (full_load.py). From /proc/PID/stat after some seconds of
warming up. The yardstick (measuring.py) tells how fast this core is. Goals: under 1 % of a core
idle, under 3 % loaded.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

from tests.bench import full_load
from tests.bench.aboard import Play, Said, share_of_core, watching
from tests.bench.measuring import Figures, asked, tell, yardstick_s

WARM_UP_S = 10.0


def quiet(minutes: float) -> list[Said]:
    """The boat's own instruments once a second."""
    return [
        said for said in full_load.log(minutes, ships=0, a_second=0)
        if said[1] == "boat" and said[0] == int(said[0])
    ]  # fmt: skip


def measure(window_s: float, warm_up_s: float = WARM_UP_S, ships: int = 1000) -> Figures:
    minutes = (warm_up_s + window_s) / 60.0 + 0.1
    logs = {"quiet": quiet(minutes), "full": list(full_load.log(minutes, ships))}
    percent: dict[str, float] = {}
    with tempfile.TemporaryDirectory() as name, watching(Path(name)) as (boat, daemon):
        share_of_core(daemon.process, warm_up_s)
        percent["nothing"] = 100.0 * share_of_core(daemon.process, window_s)
        for state, log in logs.items():
            with Play(boat, log):
                share_of_core(daemon.process, warm_up_s)
                percent[state] = 100.0 * share_of_core(daemon.process, window_s)
    return {
        "window_s": window_s,
        "nothing_comes_percent_of_a_core": percent["nothing"],
        "quiet_anchorage_percent_of_a_core": percent["quiet"],
        "idle_goal": 1.0,
        "full_load_percent_of_a_core": percent["full"],
        "full_load_sentences_a_second": len(logs["full"]) / (minutes * 60.0),
        "full_load_goal": 3.0,
        "yardstick_ms": 1000.0 * yardstick_s(),
    }


if __name__ == "__main__":
    args = asked(__doc__, window=60.0)
    tell(measure(args.window), args.json)
