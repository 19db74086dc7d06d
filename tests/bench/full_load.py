"""The full load that benchmarks run on: both AIS channels saturated, quick receivers, a busy radar.

A second has 75 AIS messages, the most that two channels carry (2,250 slots a minute each, ITU-R
M.1371-5), 10 fixes (RMC and GGA), 10 headings, 2 winds, 1 depth, and 20 radar targets (TTM) each
2.5 s, an antenna's turn (common practice, no source): about 120 sentences.

The kinds of AIS message follow from the fleet by the reporting intervals of M.1371-5 table 1; how
the fleet is made up is ours, without a source. What is left to 75 are kinds that nobody uses
here (binary broadcasts, data link management). Own ship lies at anchor in the demo's bay; nothing
drags. One seed gives one log, to the last bit.

    python -m tests.bench.full_load MINUTES > full.nmea
"""

from __future__ import annotations

import math
import random
import sys
from collections import deque
from collections.abc import Iterator
from pathlib import Path

import msgspec
from demo import night, sentences
from tests.scenes.sea import vdm

from shipkeeper.app.kinds import KINDS
from shipkeeper.orders import load
from shipkeeper.rehearse.rehearsal import Start
from shipkeeper.simulate.night import simulate
from shipkeeper.simulate.plan import Boat, NightPlan, Rode, Sample, WindKnot
from shipkeeper.words.geo import LatLon, east_north, from_east_north, plane_bearing, velocity
from shipkeeper.words.orders import Orders
from shipkeeper.words.units import M_PER_NM, MS_PER_KN

AIS_A_SECOND = 75
RATE_HZ = 10
RADAR_TARGETS = 20
SCAN_S = 2.5
SIX_MINUTES_S, THREE_MINUTES_S = 360.0, 180.0
SPREAD_NM = 20.0  # half the width of the square that the ships lie in
# (how many, station, interval s, under way), of each thousand ships.
FLEET = (
    (330, "A", 6.0, True),
    (260, "A", THREE_MINUTES_S, False),
    (280, "B", 30.0, True),
    (100, "B", THREE_MINUTES_S, False),
    (10, "base", 10.0, False),
    (20, "aid", THREE_MINUTES_S, False),
)


class Ship(msgspec.Struct):
    """One of the fleet. Place in metres east and north of the anchor at the log's beginning."""

    mmsi: int
    station: str
    interval_s: float
    phase_s: float
    east_m: float
    north_m: float
    speed_ms: float
    course_deg: float

    def place_m(self, t_s: float) -> tuple[float, float]:
        east_ms, north_ms = velocity(self.speed_ms, self.course_deg)
        return self.east_m + east_ms * t_s, self.north_m + north_ms * t_s

    def place(self, t_s: float) -> LatLon:
        return from_east_north(night.ANCHOR, *self.place_m(t_s))


def fleet(ships: int, seed: int = 1) -> list[Ship]:
    rng = random.Random(seed)
    made: list[Ship] = []
    for share, station, interval_s, moving in FLEET:
        for _ in range(share * ships // 1000):
            east, north = (rng.uniform(-SPREAD_NM, SPREAD_NM) * M_PER_NM for _ in range(2))
            speed = rng.uniform(3.0, 16.0) * MS_PER_KN if moving else 0.0
            base = {"base": 2_990_000, "aid": 992_990_000}.get(station, 299_200_000)
            made.append(
                Ship(base + len(made), station, interval_s, rng.uniform(0.0, SIX_MINUTES_S),
                     east, north, speed, rng.uniform(0.0, 360.0))
            )  # fmt: skip
    return made


class Channels:
    """What is on the air, message by message; what finds no slot waits for the next second."""

    def __init__(self, ships: list[Ship], a_second: int) -> None:
        self._ships = ships
        self._a_second = a_second
        self._waiting: deque[list[str]] = deque()
        self._filled = 0
        self._sequence = 0

    def second(self, number: int) -> list[list[str]]:
        """The messages of one second, each a list of its sentences."""
        for ship in self._ships:
            if _due(ship.interval_s, ship.phase_s, number):
                self._waiting.append(_dynamic(ship, number))
            if ship.station in "AB" and _due(SIX_MINUTES_S, ship.phase_s, number):
                self._waiting.extend(self._static(ship))
        while len(self._waiting) < self._a_second:
            self._waiting.append(self._filler())
        return [self._waiting.popleft() for _ in range(self._a_second)]

    def _static(self, ship: Ship) -> Iterator[list[str]]:
        self._sequence += 1
        size = (60 + ship.mmsi % 50, 20, 8, 8) if ship.station == "A" else (8, 4, 2, 2)
        said = sentences.ais_static(
            ship.mmsi, f"VESSEL {ship.mmsi % 1000}", 70, size, class_b=ship.station == "B",
            sequence=self._sequence,
        )  # fmt: skip
        if ship.station == "A":
            yield said
        else:
            yield from ([part] for part in said)

    def _filler(self) -> list[str]:
        self._filled += 1
        mmsi = f"{299_100_000 + self._filled % 40:09d}"
        if self._filled % 3 == 0:
            return vdm({"msg_type": 20, "mmsi": mmsi, "offset1": self._filled % 2000,
                        "number1": 1, "timeout1": 3, "increment1": 225})  # fmt: skip
        data = self._filled.to_bytes(12, "big")
        return vdm({"msg_type": 8, "mmsi": mmsi, "dac": 1, "fid": 31, "data": data})


def _due(interval_s: float, phase_s: float, number: int) -> bool:
    return math.floor((number + phase_s) / interval_s) != math.floor(
        (number - 1 + phase_s) / interval_s
    )


def _dynamic(ship: Ship, number: int) -> list[str]:
    place = ship.place(number)
    if ship.station in ("base", "aid"):
        kind = 4 if ship.station == "base" else 21
        data = {"msg_type": kind, "mmsi": f"{ship.mmsi:09d}", "lat": place.lat, "lon": place.lon,
                "second": number % 60}  # fmt: skip
        if kind == 21:
            data |= {"aid_type": 14, "name": f"BUOY {ship.mmsi % 100}"}
        return vdm(data)
    return sentences.ais_position(
        ship.mmsi, place.lat, place.lon, ship.speed_ms, ship.course_deg,
        heading_deg=ship.course_deg, nav_status=0 if ship.speed_ms else 1,
        class_b=ship.station == "B", second=number % 60,
    )  # fmt: skip


def _nearest(ships: list[Ship]) -> list[Ship]:
    """Half of what the radar tracks are ships with AIS, the other half have none."""
    under_way = sorted((s for s in ships if s.speed_ms), key=lambda s: math.hypot(*s.place_m(60)))
    seen = under_way[: RADAR_TARGETS // 2]
    rng = random.Random(2)
    for _ in range(RADAR_TARGETS - len(seen)):
        east, north = (rng.uniform(-5.0, 5.0) * M_PER_NM for _ in range(2))
        seen.append(Ship(0, "", SCAN_S, 0.0, east, north, rng.uniform(0.0, 5.0), 40.0))
    return seen


def _echo(number: int, ship: Ship, t_s: float, own: LatLon, rng: random.Random) -> str:
    east, north = east_north(own, ship.place(t_s))
    range_m = math.hypot(east, north) + rng.gauss(0.0, 15.0)
    return sentences.finish(
        f"RATTM,{number:02d},{abs(range_m) / M_PER_NM:.3f},{plane_bearing(east, north):.1f},T,"
        f"{ship.speed_ms / MS_PER_KN:.1f},{ship.course_deg:.1f},T,,,N,,T,,,A"
    )


def _plan(minutes: float) -> NightPlan:
    return NightPlan(
        seed=5, duration_s=minutes * 60.0 + 1.0, rate_hz=RATE_HZ, boat=Boat(length_m=11.4),
        rode=Rode(length_m=40.0, entered_m=40.0, chain_m=40.0), depth_m=6.0,
        wind=(WindKnot(0.0, 6.0, 220.0), WindKnot(minutes * 60.0 + 60.0, 8.0, 230.0)),
    )  # fmt: skip


def _boat(sample: Sample, step: int) -> list[str]:
    """RMC, GGA and HDT with every fix, wind twice and depth once a second."""
    said = night.boat_sentences(sample)
    tenth = step % RATE_HZ
    wanted = {"RMC", "GGA", "HDT"} | ({"MWV"} if tenth in (0, 5) else set())
    kept = [line for line in said if line[3:6] in wanted]
    if tenth == 0 and sample.depth_m is not None:
        kept.append(sentences.dpt(sample.depth_m - night.TRANSDUCER_M, night.TRANSDUCER_M))
    return kept


def log(minutes: float, ships: int = 1000, a_second: int = AIS_A_SECOND) -> Iterator[
    tuple[float, str, str]
]:  # fmt: skip
    """(UNIX time, wire, sentence) in order of time."""
    vessels = fleet(ships)
    channels = Channels(vessels, a_second)
    echoes = _nearest(vessels)
    rng = random.Random(3)
    own = night.ANCHOR
    second: list[tuple[float, str, str]] = []
    for step, sample in enumerate(simulate(_plan(minutes))):
        number, tenth = divmod(step, RATE_HZ)
        if tenth == 0:
            yield from sorted(second, key=lambda said: said[0])
            if number >= minutes * 60.0:
                return
            second = []
            at_s = night.START + number
            for slot, message in enumerate(channels.second(number)):
                for line in message:
                    second.append((round(at_s + slot / a_second, 3), "ais", line))
            for n, ship in enumerate(echoes):
                turn_s = n * SCAN_S / len(echoes) + math.floor(number / SCAN_S) * SCAN_S
                while turn_s < number + 1:
                    if turn_s >= number:
                        echo = _echo(n + 1, ship, turn_s, own, rng)
                        second.append((round(night.START + turn_s, 3), "radar", echo))
                    turn_s += SCAN_S
        for line in _boat(sample, step):
            second.append((round(night.START + step / RATE_HZ, 3), "boat", line))


def write(path: Path, minutes: float, ships: int = 1000, a_second: int = AIS_A_SECOND) -> int:
    """A recording of it; returns its sentences."""
    count = 0
    with path.open("w") as file:
        for at_s, wire, line in log(minutes, ships, a_second):
            file.write(sentences.tagged(line, wire, at_s) + "\n")
            count += 1
    return count


def orders(folder: Path) -> Orders:
    """The demo's, without its wires and outlets."""
    text = (Path(night.__file__).parent / "orders.toml").read_text()
    head, _, rest = text.partition("[[input]]")
    path = folder / "orders.toml"
    path.write_text(head + rest[rest.index("[[zone]]") : rest.index("[[outlet]]")])
    return load(path, KINDS)


START = Start(anchor=night.ANCHOR, rode_m=40.0, depth_m=7.2)

if __name__ == "__main__":
    for at_s, wire, line in log(float(sys.argv[1])):
        print(sentences.tagged(line, wire, at_s))
