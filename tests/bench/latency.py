"""How long from the last byte of the deciding sentence to the buzzer and to the syslog datagram.

    python -m tests.bench.latency [--runs 100] [--grid-runs 20] [--json]

The real daemon by the true clock, under the full load all the while. Distress beacons are raised
one after another: these are judged at once, so this is the way through the daemon and nothing
else. The buzzer's call is the line that the drawn buzzer prints. What the grid adds is measured
apart: shoal water without an on-delay, judged at the next whole second, so half a second more in
the mean and one at most. Each is acknowledged before the next. Reference, in turn: the same bytes
sent from one loopback socket to another. Goal: p99 under 20 ms beyond the grid.
"""

from __future__ import annotations

import queue
import random
import socket
import tempfile
import time
from pathlib import Path

from demo import night, sentences
from tests.bench import full_load
from tests.bench.aboard import Play, command, watching
from tests.bench.measuring import Figures, asked, quantile, tell
from tests.live.boat import Boat, Daemon, drained
from tests.scenes.sea import vdm

SHOAL = """
[[depth]]
name = "bank"
shallower_than = "4.0 m"
reference = "waterline"
priority = "alarm"
confirm = "0 s"
clear = "1 s"
"""


def measure(runs: int, grid_runs: int, warm_up_s: float = 15.0) -> Figures:
    minutes = (warm_up_s + 2.5 * runs + 8.0 * grid_runs) / 60.0 + 0.2
    log = [said for said in full_load.log(minutes) if said[2][3:6] != "DPT"]
    rng = random.Random(6)
    with (
        tempfile.TemporaryDirectory() as name,
        watching(Path(name), SHOAL) as (boat, daemon),
        Play(boat, log),
    ):
        time.sleep(warm_up_s)
        prompt = [beacon(boat, daemon, number, rng) for number in range(runs)]
        grid = [shoal(boat, daemon, rng) for _ in range(grid_runs)]
    plain = [loopback_ms() for _ in range(200)]
    found: Figures = {"runs": runs, "loopback_alone_p50_ms": quantile(plain, 0.5)}
    for what, times in (("", prompt), ("with_grid_", grid)):
        for place, way in enumerate(("buzzer", "syslog")):
            ways = [pair[place] for pair in times]
            found[f"{what}{way}_p50_ms"] = quantile(ways, 0.5)
            found[f"{what}{way}_p99_ms"] = quantile(ways, 0.99)
            if not what:
                found[f"{way}_goal_p99_ms"] = 20.0
    return found


def beacon(boat: Boat, daemon: Daemon, number: int, rng: random.Random) -> tuple[float, float]:
    place = night.ANCHOR
    data = {"msg_type": 1, "mmsi": f"{972_990_000 + number:09d}", "lat": place.lat + 0.05,
            "lon": place.lon, "status": 14}  # fmt: skip
    (line,) = vdm(data)
    return raised(boat, daemon, line, str(972_990_000 + number), rng)


def shoal(boat: Boat, daemon: Daemon, rng: random.Random) -> tuple[float, float]:
    for _ in range(4):  # the water is known, and known to be deep
        deep(boat)
        time.sleep(1.1)
    return raised(boat, daemon, sentences.dpt(2.9, 0.6), "bank", rng)


def deep(boat: Boat) -> None:
    boat.server.send((sentences.dpt(8.0, 0.6) + "\r\n").encode())


def raised(
    boat: Boat, daemon: Daemon, line: str, named: str, rng: random.Random
) -> tuple[float, float]:
    """(ms to the buzzer, ms to syslog) of what this sentence raises; then it is acknowledged."""
    drained(boat.syslog.got)
    before = len(daemon.printed)
    time.sleep(rng.uniform(0.1, 1.1))  # anywhere between two grid seconds
    sent_s = time.monotonic()
    boat.server.send((line + "\r\n").encode())
    logged_s = until_logged(boat, named)
    boat.until(lambda: calls(daemon, before))
    called_s = calls(daemon, before)[0]
    for alert in standing(boat):
        command(boat, "ack", id=alert["id"])
    boat.until(lambda: "silent" in daemon.printed[-1][1])
    return 1000.0 * (called_s - sent_s), 1000.0 * (logged_s - sent_s)


def calls(daemon: Daemon, before: int) -> list[float]:
    """When the buzzer began, of all that was printed since."""
    return [at for at, text in daemon.printed[before:] if "buzzer" in text and "silent" not in text]


def until_logged(boat: Boat, named: str) -> float:
    edge_s = time.monotonic() + 10.0
    while time.monotonic() < edge_s:
        try:
            if named in boat.syslog.next(1.0).decode():
                return time.monotonic()
        except queue.Empty:
            continue
    raise AssertionError(f"{named} was not logged")


def standing(boat: Boat) -> list[dict[str, str]]:
    rows: list[dict[str, str]] = command(boat, "alerts")["data"]["alerts"]
    return [row for row in rows if row["state"] in ("active-unacknowledged", "active-silenced")]


def loopback_ms() -> float:
    """One datagram from socket to socket."""
    with (
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one,
        socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as other,
    ):
        other.bind(("127.0.0.1", 0))
        began_s = time.monotonic()
        one.sendto(b"x" * 200, other.getsockname())
        other.recv(1000)
        return 1000.0 * (time.monotonic() - began_s)


if __name__ == "__main__":
    args = asked(__doc__, runs=100, grid_runs=20)
    tell(measure(args.runs, args.grid_runs), args.json)
