"""The drag rule on real positions: receivers at rest, real receiver errors, a moored buoy.

Nothing is raised while they lie; a drift spliced on to them is. Sources and licences are in
tests/data/gnss/README.md.
"""

from __future__ import annotations

import csv
import gzip
import math
from collections.abc import Callable, Iterable, Iterator
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest
from demo.sentences import gga, mwv, rmc

from shipkeeper.engine import Engine
from shipkeeper.rules.anchoring.estimator import AnchorEstimator
from shipkeeper.rules.anchoring.setting import AnchorSetting
from shipkeeper.rules.drag import DragOrders
from shipkeeper.words.effects import Record
from shipkeeper.words.events import Command, Line
from shipkeeper.words.geo import LatLon, east_north, offset
from shipkeeper.words.orders import Antenna, Orders, Vessel

HERE = Path(__file__).parent.parent / "data" / "gnss"
VESSEL = Vessel(
    name="Curlew", length_m=11.4, beam_m=3.6, antenna=Antenna(from_bow_m=2.0), bow_height_m=1.0
)
Said = Iterable[tuple[float, str]]


def raised(said: Said, verb: str = "anchor", **lengths: float) -> list[tuple[float, str]]:
    """(seconds, priority) at which the drag alert was raised, with the mark at the first fix."""
    engine: Engine | None = None
    set_yet = False
    found: list[tuple[float, str]] = []
    start = 0.0
    for at_s, sentence in said:
        if engine is None:
            engine, start = Engine(Orders(vessel=VESSEL, rules=(DragOrders(),)), at_s), at_s
        effects = engine.handle(Line(at_s, input="gnss", text=sentence))
        if not set_yet and engine.picture.own_place(at_s) is not None:
            set_yet = True
            engine.handle(Command(at_s, number=1, verb=verb, args={"how": "here", **lengths}))
        for effect in effects:
            if isinstance(effect, Record):
                t = effect.transition
                if t.kind == "drag" and str(t.to).startswith("active"):
                    found.append((at_s - start, t.priority))
    return found


def recorded(name: str) -> Iterator[tuple[float, str]]:
    """A log timed by its own GGA and RMC."""
    with gzip.open(HERE / name, "rt") as file:
        for line in file:
            clock = line.split(",")[1]
            hours, minutes, seconds = int(clock[:2]), int(clock[2:4]), float(clock[4:])
            yield 3600.0 * hours + 60.0 * minutes + seconds, line.strip()


def drifting(said: Said, from_s: float, speed_ms: float, course_deg: float) -> Said:
    """The same log with the receiver carried off from some second on."""
    start: float | None = None
    for at_s, sentence in said:
        start = at_s if start is None else start
        away = speed_ms * (at_s - start - from_s)
        if away <= 0:
            yield at_s, sentence
            continue
        parts = sentence.split(",")
        at = 2 if "GGA" in parts[0] else 3
        lat = int(parts[at][:2]) + float(parts[at][2:]) / 60
        lon = -(int(parts[at + 2][:3]) + float(parts[at + 2][3:]) / 60)
        moved = offset(LatLon(lat, lon), course_deg, away)
        if "GGA" in parts[0]:
            yield at_s, gga(at_s, moved.lat, moved.lon, float(parts[8]))
        else:
            yield at_s, rmc(at_s, moved.lat, moved.lon, speed_ms, course_deg)


def with_errors(
    receiver: str, repeats: int, drift: Callable[[float], tuple[float, float]]
) -> Iterator[tuple[float, str]]:
    """A boat at a place of ours as that receiver would have shown her, its log run to and fro."""
    with gzip.open(HERE / "receiver_errors.csv.gz", "rt") as file:
        rows = list(csv.DictReader(file))
    track = [
        (float(r[f"{receiver}_east_m"]), float(r[f"{receiver}_north_m"]), r[f"{receiver}_hdop"])
        for r in rows
    ]
    track = (track + track[::-1]) * repeats
    for second, (east, north, hdop) in enumerate(track):
        drift_east, drift_north = drift(float(second))
        x, y = east + drift_east, north + drift_north
        fix = offset(LatLon(57.1, -5.2), math.degrees(math.atan2(x, y)), math.hypot(x, y))
        yield float(second), gga(float(second), fix.lat, fix.lon, float(hdop))


def still(_: float) -> tuple[float, float]:
    return 0.0, 0.0


@pytest.mark.parametrize("name", ["static_10min.nmea.gz", "static_5min_pair2_a.nmea.gz"])
@pytest.mark.parametrize("verb", ["anchor", "moor", "berth"])
def test_a_receiver_at_rest_raises_nothing(name: str, verb: str) -> None:
    lengths = {"rode_m": 20.0, "depth_m": 4.0} if verb == "anchor" else {}
    assert raised(recorded(name), verb, **lengths) == []


@pytest.mark.parametrize("verb,reach_m", [("anchor", 20.0), ("moor", 10.0), ("berth", 2.5)])
def test_a_drift_spliced_on_to_it_is_raised(verb: str, reach_m: float) -> None:
    lengths = {"rode_m": 20.0, "depth_m": 4.0} if verb == "anchor" else {}
    log = drifting(recorded("static_10min.nmea.gz"), 120.0, 0.3, 80.0)
    found = [at for at, priority in raised(log, verb, **lengths) if priority == "alarm"]
    assert found
    dragged = 0.3 * (found[0] - 120.0)
    assert reach_m < dragged < 2 * reach_m + 45.0


@pytest.mark.parametrize("receiver", ["a", "b", "c"])
@pytest.mark.parametrize("verb", ["anchor", "moor", "berth"])
def test_real_receiver_errors_raise_nothing_for_an_hour_and_a_half(
    receiver: str, verb: str
) -> None:
    lengths = {"rode_m": 20.0, "depth_m": 4.0} if verb == "anchor" else {}
    assert raised(with_errors(receiver, 4, still), verb, **lengths) == []


@pytest.mark.parametrize("receiver", ["a", "b", "c"])
def test_a_creep_under_real_receiver_errors_is_raised(receiver: str) -> None:
    """0.1 m/s from the twentieth minute on; she lies at the mark before."""

    def creep(at_s: float) -> tuple[float, float]:
        return max(0.0, 0.1 * (at_s - 1200.0)), 0.0

    found = raised(with_errors(receiver, 3, creep), rode_m=20.0, depth_m=4.0)
    alarms = [at for at, priority in found if priority == "alarm"]
    assert alarms
    assert 0.1 * (alarms[0] - 1200.0) < 75.0


def buoy(drift_ms: float, from_s: float, every_s: float) -> Iterator[tuple[float, str]]:
    """The moored buoy's day: its fixes ten minutes apart, held or filled in between."""
    with (HERE / "moored_buoy.csv").open() as file:
        rows = list(csv.DictReader(file))
    start = datetime.fromisoformat(rows[0]["utc"]).timestamp()
    fixes = [
        (
            datetime.fromisoformat(r["utc"]).timestamp() - start,
            LatLon(float(r["lat"]), float(r["lon"])),
            float(r["wind_ms"] or 0.0),
        )
        for r in rows
    ]
    for (at_s, fix, wind), (next_s, to, _) in pairwise(fixes):
        second = at_s
        east, north = east_north(fix, to)
        while second < next_s:
            share = (second - at_s) / (next_s - at_s)
            x = share * east + max(0.0, second - from_s) * drift_ms
            y = share * north
            place = offset(fix, math.degrees(math.atan2(x, y)), math.hypot(x, y))
            yield second, gga(second, place.lat, place.lon, 1.0)
            yield second, mwv(0.0, wind)
            second += every_s


@pytest.mark.parametrize("every_s", [10.0, 30.0, 600.0])
def test_the_moored_buoy_raises_nothing_in_a_day(every_s: float) -> None:
    assert raised(buoy(0.0, 0.0, every_s), "moor", rode_m=25.0) == []


@pytest.mark.parametrize("every_s", [10.0, 30.0, 600.0])
def test_the_buoy_adrift_is_raised(every_s: float) -> None:
    found = raised(buoy(0.1, 43_200.0, every_s), "moor", rode_m=25.0)
    alarms = [at for at, priority in found if priority == "alarm"]
    assert alarms
    # One fix may be multipath, a second confirms it, and the dwell wants one more.
    assert 0.1 * (alarms[0] - 43_200.0) < 25.0 + 60.0 + 0.1 * 3 * every_s


def test_position_alone_and_slow_keeps_within_its_state() -> None:
    """A fix each ten seconds with nothing else: estimator's state stays small (1.5 MB allowed)."""
    estimator = AnchorEstimator(AnchorSetting(rode_m=30.0, depth_m=5.0))
    for second in range(0, 36_000, 10):
        estimator.step(float(second), 10.0 * math.sin(second / 300), 18.0)
    assert len(estimator.snapshot()) < 20_000
