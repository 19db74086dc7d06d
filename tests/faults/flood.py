"""Campaign: inputs flood the daemon; what matters among it is raised and sounded in time.

    nice python -m tests.faults.flood [WORD]

`flood`: 50 times what two saturated AIS channels carry, each second, each ship a forged one but
for a real one that turns at us; and our own wire says everything 50 times. `deluge`: more than
can be judged, so that lines are dropped: counted, told, and our own wire is heard all the same.
The sentences are made before, and sent by the clock: fewer than promised is a failure.
"""

from __future__ import annotations

import contextlib
import itertools
import math
import os
import re
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

from demo import night, sentences
from tests.bench.aboard import memory_mb, spent_s
from tests.bench.full_load import AIS_A_SECOND
from tests.faults.aboard import ON_TIME_S, Aboard, orders
from tests.faults.inside import Told, main
from tests.live.boat import BUZZER, LOG, PHONE
from tests.peers import SentenceServer

from shipkeeper.words.geo import from_east_north

FLOOD, DELUGE = 50, 400
IDENTITIES = 20_000
BEAT_S = 0.1
SETTLE_S = 8.0
SPEED_MS = 12.5
REPORTS_S = 2.0  # she says something so often at that speed (ITU-R M.1371, from memory)
CONFIRM_S = 1.0
# The order's own on-delay and the grid of a second, in true time.
SOUND_S = ON_TIME_S + CONFIRM_S + 1.0
LEAST_OFFERED = 0.97  # of what was promised
MOST_MORE_MB = 40.0  # resident, over what it was before the flood; ours
AIS = """
[[input]]
name = "ais"
tcp = "127.0.0.1:<ais>"
expect = []

[[zone]]
name = "guard"
around = "ship"
ring = {{ from = "0 m", to = "0.25 NM" }}

[[proximity]]
name = "close quarters"
cpa = "0.1 NM"
tcpa = "6 min"
confirm = "1 s"
"""


class Stranger:
    """A real ship among the forged: known before, fast, passing well off; then she turns."""

    mmsi = 299_000_777

    def __init__(self) -> None:
        self.course_deg = 90.0
        self._east_m, self._north_m = -600.0, 3500.0
        self._at_s = time.monotonic()

    def turn(self) -> None:
        """Straight at us."""
        self.course_deg = math.degrees(math.atan2(-self._east_m, -self._north_m)) % 360.0

    def said(self) -> list[str]:
        """Her report of now."""
        now_s, course = time.monotonic(), math.radians(self.course_deg)
        way_m, self._at_s = SPEED_MS * (now_s - self._at_s), now_s
        self._east_m += way_m * math.sin(course)
        self._north_m += way_m * math.cos(course)
        place = from_east_north(night.ANCHOR, self._east_m, self._north_m)
        return sentences.ais_position(self.mmsi, place.lat, place.lon, SPEED_MS, self.course_deg)


class Ships(threading.Thread):
    """The wire of the AIS receiver: the stranger once in two seconds, and when the gates are open
    so many sentences a second of ships that are none."""

    def __init__(self, server: SentenceServer, times: float) -> None:
        super().__init__(daemon=True)
        self.stranger, self.sent = Stranger(), 0
        self.gates, self.over = threading.Event(), threading.Event()
        self.a_second = times * AIS_A_SECOND
        self._server = server
        each = round(self.a_second * BEAT_S)
        self._blocks = [
            _written(line for n in range(each) for line in _forged((first + n) % IDENTITIES))
            for first in range(0, IDENTITIES, each)
        ]
        self._each = each

    def run(self) -> None:
        for number in beats(self.over, BEAT_S):
            if self.gates.is_set():
                self._server.send(self._blocks[number % len(self._blocks)])
                self.sent += self._each
            if number % round(REPORTS_S / BEAT_S) == 0:
                self._server.send(_written(self.stranger.said()))


class Ourselves(threading.Thread):
    """Our own wire: what it says each second, and with the gates open 50 times in that second."""

    def __init__(self, boat: Aboard, ships: Ships) -> None:
        super().__init__(daemon=True)
        self.sent = 0
        self._boat, self._ships = boat, ships

    def run(self) -> None:
        began_s = self._boat.utc_s
        for number in beats(self._ships.over, 1.0 / FLOOD):
            self._boat.utc_s = began_s + number // FLOOD
            if self._ships.gates.is_set():
                self.sent += self._boat.repeat()
            elif number % FLOOD == 0:
                self._boat.repeat()


def _forged(number: int) -> list[str]:
    lat = night.ANCHOR.lat + 0.02 + number % 100 * 0.002
    lon = night.ANCHOR.lon + number / 1e5
    return sentences.ais_position(299_100_000 + number, lat, lon, 3.0, 90.0)


def _written(lines: Iterator[str] | list[str]) -> bytes:
    return "".join(line + "\r\n" for line in lines).encode()


def beats(over: threading.Event, each_s: float) -> Iterator[int]:
    """Evenly by the clock until it is over; one that was held up is made up for."""
    began_s = time.monotonic()
    for number in itertools.count(1):
        if over.wait(max(0.0, began_s + number * each_s - time.monotonic())):
            return
        yield number


@contextlib.contextmanager
def sea(times: float) -> Iterator[tuple[Aboard, Ships, Ourselves]]:
    """A boat whose wires are quiet yet; the stranger has been about for a while."""
    with (
        tempfile.TemporaryDirectory(prefix="shipkeeper-flood-") as name,
        SentenceServer() as server,
    ):
        text = orders(BUZZER, PHONE, LOG, AIS.replace("<ais>", str(server.port)), tanks=4)
        boat, ships = Aboard(Path(name), text, 4), Ships(server, times)
        try:
            boat.start("--time-lapse", "1", "--starts", "2026-06-11T22:00:00Z")
            boat.anchor()
            server.wait(within_s=30.0)
            ourselves = Ourselves(boat, ships)
            ships.start()
            ourselves.start()
            time.sleep(SETTLE_S)
            yield boat, ships, ourselves
            ships.over.set()
            ships.join(10.0)
            ourselves.join(10.0)
        finally:
            ships.over.set()
            boat.close()


def flood(told: Told, seconds: float = 30.0) -> None:
    """50 times: nothing need be lost of it."""
    with sea(FLOOD) as (boat, ships, ourselves):
        _through(boat, ships, ourselves, told, seconds, turns=True)


def deluge(told: Told, seconds: float = 15.0) -> None:
    """More than can be judged. Of a ship on that very wire reports are dropped as of all others."""
    with sea(DELUGE) as (boat, ships, ourselves):
        _through(boat, ships, ourselves, told, seconds, turns=False)


def _through(
    boat: Aboard, ships: Ships, ourselves: Ourselves, told: Told, seconds: float, *, turns: bool
) -> None:
    """The flood for so long, with three tanks that go low, and a ship that turns at us, in it."""
    assert boat.daemon is not None
    pid = boat.daemon.process.pid
    before_mb, before_s = memory_mb(pid)[0], spent_s(pid)
    most = _Most(pid, ships.over)
    most.start()
    ships.gates.set()
    began_s = time.monotonic()
    for tank in (1, 2, 3):
        ships.over.wait(max(0.0, began_s + (tank - 0.7) * seconds / 3 - time.monotonic()))
        took_s = _tank(boat, tank)
        told.sounds_s.append(took_s)
        if took_s > SOUND_S:
            told.wrong.append(f"tank {tank} sounded after {took_s:.1f} s, "
                              f"load {os.getloadavg()[0]:.1f}")  # fmt: skip
        boat.answered(tank)
    if turns:
        turned_s = _ship(boat, ships)
        told.notes.append(f"the ship that turned at us sounded after {turned_s:.1f} s")
        if turned_s > SOUND_S + REPORTS_S:
            told.wrong.append(f"the ship that turned at us sounded after {turned_s:.1f} s")
    ships.over.wait(max(0.0, began_s + seconds - time.monotonic()))
    took_s, cpu_s = time.monotonic() - began_s, spent_s(pid) - before_s
    sent, more = ships.sent, ourselves.sent
    vitals = boat.state()["daemon"]
    ships.over.set()
    most.join()
    rate = sent / took_s
    told.notes.append(
        f"{rate:.0f} AIS messages a second ({rate / AIS_A_SECOND:.1f} times) and "
        f"{more / took_s:.0f} of our own for {took_s:.0f} s, {vitals['dropped_lines']} lines "
        f"dropped, at most {vitals['worst_lateness_s']:.1f} s late, {100 * cpu_s / took_s:.0f} % "
        f"of a core, resident {before_mb:.0f} MB before and {most.mb:.0f} MB at most, "
        f"load {os.getloadavg()[0]:.1f}"
    )
    if rate < LEAST_OFFERED * ships.a_second:
        told.wrong.append(f"only {rate:.0f} of {ships.a_second:.0f} messages a second were offered")
    if vitals["dropped_lines"] and not boat.standing("self:worker-inbox"):
        told.wrong.append("lines were dropped, and nobody is told")
    if most.mb - before_mb > MOST_MORE_MB:
        told.wrong.append(f"resident grew from {before_mb:.0f} to {most.mb:.0f} MB")


def _tank(boat: Aboard, tank: int) -> float:
    """Seconds from low to the sound."""
    assert boat.daemon is not None
    printed, low_s = len(boat.daemon.printed), time.monotonic()
    boat.low.add(tank)
    return boat.sounded(tank, printed, fed=False) - low_s


def _ship(boat: Aboard, ships: Ships) -> float:
    """Seconds from the turn to the sound."""
    assert boat.daemon is not None
    lines, turned_s = boat.daemon.printed, time.monotonic()
    printed, name = len(lines), re.compile(rf"buzzer .*{Stranger.mmsi}")
    ships.stranger.turn()
    heard_s = boat.until(lambda: next((at for at, line in lines[printed:] if name.search(line)), 0))
    return float(heard_s) - turned_s


class _Most(threading.Thread):
    """The most that was resident, until it is over."""

    def __init__(self, pid: int, over: threading.Event) -> None:
        super().__init__(daemon=True)
        self.mb = 0.0
        self._pid, self._over = pid, over

    def run(self) -> None:
        while not self._over.wait(0.2):
            self.mb = max(self.mb, memory_mb(self._pid)[0])


if __name__ == "__main__":
    sys.exit(main((flood, deluge), sys.argv[1] if len(sys.argv) > 1 else ""))
