"""Resident memory of the real daemon with buzzer, push, syslog and MQTT at work.

    python -m tests.bench.daemon_memory [--few 200] [--many 2000] [--json]

So many ships, each with her place, name and size, are told as fast as the daemon takes them; a
distress beacon is raised and has gone out by push, syslog and MQTT, so that all of it is loaded.
From /proc/PID/status some seconds later, beside what an interpreter takes that does nothing.
Goals: under 64 MB at 200 targets, under 80 MB at 2,000.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
from pathlib import Path

from demo import night, sentences
from tests.bench import full_load
from tests.bench.aboard import command, memory_mb, watching
from tests.bench.measuring import Figures, asked, tell
from tests.live.boat import Boat
from tests.scenes.sea import vdm

BEACON = {"msg_type": 1, "mmsi": "970299001", "lat": -47.51, "lon": -31.34, "status": 14}


def measure(ships: int, settle_s: float) -> tuple[float, float]:
    """(megabytes now, the most it was) of a daemon with so many targets."""
    with tempfile.TemporaryDirectory() as name, watching(Path(name)) as (boat, daemon):
        tell_all(boat, ships - 1)  # the beacon is one more
        for line in vdm(dict(BEACON)):
            boat.server.send((line + "\r\n").encode())
        boat.phone.next(30.0)
        edge_s = time.monotonic() + settle_s
        while time.monotonic() < edge_s:
            fix = sentences.rmc(time.time(), night.ANCHOR.lat, night.ANCHOR.lon, 0.0, None)
            boat.server.send((fix + "\r\n").encode())
            time.sleep(0.5)
        heard = command(boat, "status")["data"]["targets"]
        assert heard >= ships, heard
        return memory_mb(daemon.process.pid)


def tell_all(boat: Boat, ships: int) -> None:
    """Place, name and size of each, a few hundred sentences a second."""
    for count, ship in enumerate(full_load.fleet(ships + 50)[:ships]):
        place = ship.place(0.0)
        said = sentences.ais_position(ship.mmsi, place.lat, place.lon, ship.speed_ms,
                                      ship.course_deg, class_b=ship.station == "B")  # fmt: skip
        said += sentences.ais_static(ship.mmsi, f"VESSEL {count}", 70, (60, 20, 8, 8),
                                     sequence=count)  # fmt: skip
        boat.server.send("".join(line + "\r\n" for line in said).encode())
        if count % 50 == 0:
            time.sleep(0.1)


def bare_mb() -> float:
    """An interpreter that has loaded nothing of ours."""
    waits = "import sys; sys.stdin.read()"
    with subprocess.Popen([sys.executable, "-c", waits], stdin=subprocess.PIPE) as process:
        time.sleep(0.5)
        now_mb, _ = memory_mb(process.pid)
        assert process.stdin is not None
        process.stdin.close()
    return now_mb


def figures(few: int, many: int, settle_s: float = 10.0) -> Figures:
    bare = bare_mb()
    found: Figures = {"interpreter_alone_mb": bare}
    for ships, goal in ((few, 64.0), (many, 80.0)):
        now_mb, peak_mb = measure(ships, settle_s)
        found[f"{ships}_targets_mb"] = now_mb
        found[f"{ships}_targets_peak_mb"] = peak_mb
        found[f"{ships}_targets_goal_mb"] = goal
        found[f"{ships}_targets_in_interpreters"] = now_mb / bare
    return found


if __name__ == "__main__":
    args = asked(__doc__, few=200, many=2000)
    tell(figures(args.few, args.many), args.json)
