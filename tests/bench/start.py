"""From exec to a watch that watches, with the alerts of before sounding again.

    python -m tests.bench.start [--runs 7] [--json]

The real daemon raises a distress beacon and is killed as by a power cut; then it is started again
and timed from exec: to the sound, and to its word that it watches. In turn with an interpreter
that does nothing. Then what is loaded by then (`python -X importtime`): ms by package, and
whether anything is there that should come only when it is needed. Goal: under 1 s.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

from tests.bench.aboard import spent_s
from tests.bench.measuring import Figures, asked, quantile, tell
from tests.live.boat import ORDERS, Boat
from tests.scenes.sea import vdm

BEACON = {"msg_type": 1, "mmsi": "970299001", "lat": -47.51, "lon": -31.34, "status": 14}
# Loaded when an outlet, a person's question or a verb needs them, never at the start.
LATE = frozenset({
    "apprise", "requests", "pyproj", "numpy", "matplotlib", "rich", "paho", "websockets", "gpiod",
    "distributed", "pyais",
})  # fmt: skip


def again(runs: int) -> list[tuple[float, float, float]]:
    """(s to the sound, s to watching, processor s by then) of each start after a power cut."""
    took = []
    with tempfile.TemporaryDirectory() as name, Boat(Path(name), ORDERS) as boat:
        with boat.watch() as daemon:
            boat.server.wait(within_s=30)
            boat.until(lambda: boat.order("moor", "-47.5,-31.3").returncode in (0, 1))
            for line in vdm(dict(BEACON)):
                boat.server.send((line + "\r\n").encode())
            daemon.says("buzzer", 30)
            time.sleep(1.0)  # the store has it
            daemon.kill()
        for _ in range(runs):
            began_s = time.monotonic()
            with boat.watch() as daemon:
                sounded_s = daemon.says("buzzer", 30) - began_s
                watching_s = daemon.says("watches for", 30) - began_s
                took.append((sounded_s, watching_s, spent_s(daemon.process.pid)))
                daemon.kill()
    return took


def bare_s() -> float:
    began_s = time.monotonic()
    subprocess.run([sys.executable, "-c", "pass"], check=True)
    return time.monotonic() - began_s


def loaded() -> tuple[float, list[tuple[str, float]], list[str]]:
    """(ms of all imports, ms by package, packages that should not be there yet)."""
    code = "import shipkeeper.cli.main, shipkeeper.cli.watch, shipkeeper.app.daemon"
    said = subprocess.run(
        [sys.executable, "-X", "importtime", "-c", code], check=True, capture_output=True, text=True
    ).stderr
    by_package: Counter[str] = Counter()
    for line in said.splitlines()[1:]:
        own_us, _, module = line.removeprefix("import time:").split("|")
        by_package[module.strip().partition(".")[0]] += int(own_us)
    early = sorted(LATE & by_package.keys())
    most = [(name, us / 1000.0) for name, us in by_package.most_common(6)]
    return sum(by_package.values()) / 1000.0, most, early


def measure(runs: int) -> Figures:
    bare = statistics.median(bare_s() for _ in range(5))
    took = again(runs)
    sounded, watching, spent = ([one[i] for one in took] for i in range(3))
    total_ms, most, early = loaded()
    return {
        "runs": runs,
        "interpreter_alone_s": bare,
        "to_the_sound_s": statistics.median(sounded),
        "to_watching_s": statistics.median(watching),
        "to_watching_worst_s": quantile(watching, 1.0),
        "goal_s": 1.0,
        "to_watching_in_interpreters": statistics.median(watching) / bare,
        "processor_s_by_then": statistics.median(spent),
        "imports_ms": total_ms,
        "dearest_packages_ms": [f"{name} {ms:.0f}" for name, ms in most],
        "loaded_too_early": early or ["nothing"],
    }


if __name__ == "__main__":
    args = asked(__doc__, runs=7)
    tell(measure(args.runs), args.json)
