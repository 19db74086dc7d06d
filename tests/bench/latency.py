"""How long from the last byte of the deciding sentence to the buzzer and to the syslog datagram.

    python -m tests.bench.latency [--runs 100] [--grid-runs 20] [--json]

The real daemon by the true clock, under the full load all the while. Distress beacons are raised
one after another: these are judged at once, so this is the way through the daemon and nothing
else. The buzzer's call is the line that the drawn buzzer prints. What the grid adds is measured
apart: banks that she drifts over, without an on-delay, judged at the next whole second, so half a
second more in the mean and one at most. Each is acknowledged before the next. Reference, in turn:
the same bytes sent from one loopback socket to another. Goal: p99 under 20 ms beyond the grid.
"""

from __future__ import annotations

import itertools
import queue
import random
import socket
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from demo import night, sentences
from tests.bench import full_load
from tests.bench.aboard import Play, command, watching
from tests.bench.measuring import Figures, asked, quantile, tell
from tests.live.boat import Boat, Daemon, drained
from tests.scenes.sea import vdm

Pair = tuple[float, float]
BANK = """
[[depth]]
name = "bank {number}"
shallower_than = "{limit} m"
reference = "waterline"
priority = "alarm"
confirm = "0 s"
"""
STEP_M = 0.2  # each raise has an order of its own, and the water shoals from one to the next


def limit_m(number: int, of: int) -> float:
    return 5.0 + STEP_M * (of - number)


def measure(runs: int, grid_runs: int, warm_up_s: float = 15.0) -> Figures:
    minutes = (warm_up_s + 3.0 * runs + 9.0 * grid_runs) / 60.0 + 0.5
    log = [said for said in full_load.log(minutes) if said[2][3:6] != "DPT"]
    rng = random.Random(6)
    most = 2 * grid_runs + 2
    banks = "".join(
        BANK.format(number=n, limit=round(limit_m(n, most), 1)) for n in range(1, most + 1)
    )
    with (
        tempfile.TemporaryDirectory() as name,
        watching(Path(name), banks) as (boat, daemon),
        Play(boat, log),
    ):
        time.sleep(warm_up_s)
        numbers = itertools.count(1)
        prompt = several(runs, lambda: beacon(boat, daemon, next(numbers), rng))
        places = itertools.count(1)
        grid = several(grid_runs, lambda: shoal(boat, daemon, next(places), most, rng))
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


def several(wanted: int, once: Callable[[], Pair | None]) -> list[Pair]:
    """So many that count."""
    found: list[Pair] = []
    while len(found) < wanted:
        pair = once()
        if pair is not None:
            found.append(pair)
    return found


def beacon(boat: Boat, daemon: Daemon, number: int, rng: random.Random) -> Pair | None:
    place = night.ANCHOR
    data = {"msg_type": 1, "mmsi": f"{972_990_000 + number:09d}", "lat": place.lat + 0.05,
            "lon": place.lon, "status": 14}  # fmt: skip
    (line,) = vdm(data)
    return raised(boat, daemon, line, str(972_990_000 + number), rng)


def shoal(boat: Boat, daemon: Daemon, number: int, of: int, rng: random.Random) -> Pair | None:
    below_m = limit_m(number, of) - STEP_M / 2 - 0.6  # the transducer lies 0.6 m deep
    return raised(boat, daemon, sentences.dpt(below_m, 0.6), f'"bank-{number}"', rng)


def raised(boat: Boat, daemon: Daemon, line: str, named: str, rng: random.Random) -> Pair | None:
    """(ms to the buzzer, ms to syslog) of what this sentence raises; then it is acknowledged.
    None when a ship of the load was loud already, so that no new sound could begin."""
    quieten(boat, daemon)
    drained(boat.syslog.got)
    time.sleep(rng.uniform(0.1, 1.1))  # anywhere between two grid seconds
    before = len(daemon.printed)
    loud = bool(standing(boat))
    sent_s = time.monotonic()
    boat.server.send((line + "\r\n").encode())
    logged_s = until_logged(boat, named)
    time.sleep(0.2)
    called = calls(daemon, before)
    quieten(boat, daemon)
    if loud or not called:
        return None
    return 1000.0 * (called[0] - sent_s), 1000.0 * (logged_s - sent_s)


def quieten(boat: Boat, daemon: Daemon) -> None:
    """Everything is acknowledged, and the buzzer has said that it is silent."""

    def quiet() -> bool:
        for alert in standing(boat):
            command(boat, "ack", id=alert["id"])
        said = [text for _, text in daemon.printed if "buzzer" in text]
        return not said or "silent" in said[-1]

    boat.until(quiet)


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
