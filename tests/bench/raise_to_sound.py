"""How soon it sounds: from the sentence on the wire to the buzzer, with the network down.

    python -m tests.bench.raise_to_sound [RUNS]

The real daemon by the true clock; the phone's address and the log server swallow all. A float
switch cannot be closed here, so what is raised is a distress beacon, which no on-delay holds
back: from the last byte sent to the first pulse that the buzzer draws. Every run is a fresh one.
Our requirement: 1 s at most.
"""

from __future__ import annotations

import statistics
import sys
import tempfile
import time
from pathlib import Path

from tests.live.boat import Boat
from tests.peers.black_hole import BlackHole
from tests.scenes.sea import vdm

ORDERS = """
[vessel]
name = "Marren"
length = "11.4 m"
beam = "3.6 m"

[[input]]
name = "boat"
tcp = "127.0.0.1:{port}"

[drag]
radius = "45 m"

[[outlet]]
name = "buzzer"
terminal = {{}}

[[outlet]]
name = "skipper"
push = {{ urls = "{secret}", picture = false }}

[[outlet]]
name = "log"
syslog = {{ address = "tcp://127.0.0.1:<nowhere>" }}
"""
BEACON = {"msg_type": 1, "mmsi": "970299001", "lat": 57.11, "lon": -5.2, "status": 14}


def once(folder: Path) -> float:
    """Seconds from the beacon's report to the sound."""
    with (
        BlackHole() as nowhere,
        Boat(folder, ORDERS.replace("<nowhere>", str(nowhere.port))) as boat,
    ):
        (folder / "push-urls").write_text(f"json://127.0.0.1:{nowhere.port}/\n")
        with boat.watch() as daemon:
            boat.server.wait(within_s=30)
            boat.until(lambda: boat.order("moor", "57.1,-5.2").returncode in (0, 1))
            time.sleep(0.3)
            sent_s = time.monotonic()
            for text in vdm(dict(BEACON)):
                boat.server.send((text + "\r\n").encode())
            return daemon.says("...") - sent_s


def main(runs: int) -> None:
    took = []
    for _ in range(runs):
        with tempfile.TemporaryDirectory() as folder:
            took.append(once(Path(folder)))
    print(
        f"{runs} runs: median {statistics.median(took):.3f} s, "
        f"worst {max(took):.3f} s from the sentence to the sound"
    )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 5)
