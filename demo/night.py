"""The night: a boat of ours in a bay of ours, with everything that a watch is for.

The yacht Marren lies in Pollard's Reach, a bay that no chart has (its position is open ocean).
The boat, her rode, the wind, the tide and the receiver's errors are simulated by
shipkeeper.simulate; the ships about her are moved here on plain courses. All from one seed.

What truly happens is kept beside the sentences, so that the show, and tests, can put what was
raised next to what was so:

    22:00  anchored: 40 m of chain in 6 m; the neighbour Tolly Penna lies there already
    23:20  the stream turns and she swings right round               no alarm
    00:35  the motor boat Brine Lark comes into the guard zone       zone
    01:12  the GNSS receiver has no fix for six minutes              feed
    01:50  the coaster Harrow Tide goes by, close                    proximity
    01:59  and passes through a corner of the guard zone             zone
    02:30  a front: the wind gets up and veers
    03:04  the anchor drags                                          drag
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

from shipkeeper.simulate.night import simulate
from shipkeeper.simulate.plan import (
    Air,
    Boat,
    Drag,
    Gnss,
    GnssFault,
    NightPlan,
    Rode,
    Sample,
    StreamKnot,
    TideKnot,
    WindKnot,
)
from shipkeeper.words.geo import LatLon, from_east_north

from . import sentences

START = datetime(2026, 6, 11, 22, 0, tzinfo=UTC).timestamp()
HOURS = 5.75
ANCHOR = LatLon(-47.5008, -31.3372)
TRANSDUCER_M = 0.6
OWN_MMSI = 299000100
OWN_REPORT_EVERY_S = 10  # our transponder tells its own wire where it is

MINUTE = 60.0


def at(clock: str) -> float:
    """'23:20' -> seconds since the start of the night."""
    hours, minutes = (int(part) for part in clock.split(":"))
    return ((hours - 22) % 24) * 3600.0 + minutes * 60.0


@dataclass(frozen=True)
class Heard:
    """One sentence as it goes out on a wire."""

    utc_s: float
    wire: str  # 'boat' (GNSS and instruments) or 'ais'
    sentence: str


@dataclass(frozen=True)
class Truth:
    """Something that truly happens, and the rule that ought to say so (None: nobody should)."""

    what: str
    from_s: float
    to_s: float
    rule: str | None
    mmsi: int | None = None


@dataclass(frozen=True)
class Leg:
    """Up to `until_s` this course and speed."""

    until_s: float
    course_deg: float
    speed_ms: float


@dataclass
class Ship:
    """A ship on legs, with where she is at the start (metres east and north of the anchor)."""

    mmsi: int
    name: str
    kind: int
    size_m: tuple[int, int, int, int]
    east_m: float
    north_m: float
    legs: tuple[Leg, ...]
    class_b: bool = False
    from_s: float = 0.0
    to_s: float = 1e9

    def reports(self) -> Iterator[tuple[float, list[str]]]:
        """Her AIS, at the intervals of ITU-R M.1371 for her class and speed."""
        t_s, east, north, told_name = self.from_s, self.east_m, self.north_m, -1e9
        legs = list(self.legs)
        while t_s < min(self.to_s, HOURS * 3600):
            while len(legs) > 1 and t_s >= legs[0].until_s:
                legs.pop(0)
            leg = legs[0]
            place = from_east_north(ANCHOR, east, north)
            moving = leg.speed_ms > 0.3
            if t_s - told_name >= 360:
                told_name = t_s
                yield (
                    t_s,
                    sentences.ais_static(
                        self.mmsi, self.name, self.kind, self.size_m, class_b=self.class_b
                    ),
                )
            yield (
                t_s,
                sentences.ais_position(
                    self.mmsi,
                    place.lat,
                    place.lon,
                    leg.speed_ms,
                    leg.course_deg,
                    heading_deg=None if self.class_b else leg.course_deg,
                    nav_status=0 if moving else 1,
                    class_b=self.class_b,
                    second=int(t_s) % 60,
                ),
            )
            step_s = self._interval_s(leg.speed_ms)
            angle = math.radians(leg.course_deg)
            east += leg.speed_ms * step_s * math.sin(angle)
            north += leg.speed_ms * step_s * math.cos(angle)
            t_s += step_s

    def _interval_s(self, speed_ms: float) -> float:
        if self.class_b:
            return 30.0 if speed_ms > 2 * sentences.KNOT_MS else 180.0
        return 180.0 if speed_ms < 0.3 else 10.0


SHIPS = (
    Ship(299000211, "TOLLY PENNA", 36, (9, 3, 2, 2), 150.0, 95.0, (Leg(1e9, 230.0, 0.0),), True),
    Ship(
        299000347,
        "BRINE LARK",
        37,
        (6, 5, 2, 2),
        1500.0,
        -420.0,
        (
            Leg(at("00:48"), 287.0, 1.8),
            Leg(1e9, 287.0, 0.0),
        ),
        True,
        from_s=at("00:34"),
    ),
    Ship(
        299000518,
        "HARROW TIDE",
        70,
        (70, 18, 6, 7),
        -9000.0,
        -1480.0,
        (Leg(1e9, 82.0, 12 * sentences.KNOT_MS),),
        from_s=at("01:36"),
        to_s=at("02:20"),
    ),
    Ship(
        299000602,
        "OLD SEXTON",
        70,
        (110, 25, 9, 9),
        14000.0,
        9000.0,
        (Leg(1e9, 262.0, 9 * sentences.KNOT_MS),),
        from_s=at("23:30"),
        to_s=at("01:30"),
    ),
)


def plan(seed: int = 7) -> NightPlan:
    """Weather, tide, tackle and receiver of the night."""
    return NightPlan(
        seed=seed,
        duration_s=HOURS * 3600,
        boat=Boat(length_m=11.4, beam_m=3.6, antenna_from_bow_m=8.9, bow_height_m=1.3),
        rode=Rode(length_m=40.0, entered_m=40.0, chain_m=40.0, chain_mm=8.0),
        depth_m=6.0,
        wind=(
            WindKnot(0.0, 5.0, 235.0),
            WindKnot(at("23:20"), 2.0, 230.0),
            WindKnot(at("01:30"), 2.5, 235.0),
            WindKnot(at("02:20"), 6.0, 240.0),
            WindKnot(at("02:50"), 14.5, 285.0),
            WindKnot(at("03:40"), 15.5, 295.0),
        ),
        air=Air(gust=0.14),
        stream=(
            StreamKnot(0.0, 0.22, 0.26),
            StreamKnot(at("23:00"), 0.12, 0.14),
            StreamKnot(at("23:50"), -0.55, -0.62),
            StreamKnot(at("01:30"), -0.60, -0.66),
            StreamKnot(at("02:40"), -0.05, -0.06),
        ),
        tide=(
            TideKnot(0.0, 1.2),
            TideKnot(at("00:20"), 0.0),
            TideKnot(at("03:45"), 0.9),
        ),
        drags=(Drag(start_s=at("03:04"), speed_ms=0.12),),
        gnss=Gnss(
            quality="ordinary",
            faults=(
                GnssFault(kind="dropout", start_s=at("01:12"), duration_s=6 * MINUTE),
                GnssFault(
                    kind="multipath",
                    start_s=at("22:40"),
                    duration_s=50.0,
                    east_m=14.0,
                    north_m=-9.0,
                    hdop_rise=0.8,
                ),
            ),
        ),
    )


TRUTHS = (
    Truth("the neighbour Tolly Penna lies there", 0.0, HOURS * 3600, None, 299000211),
    Truth("a GNSS wobble of 16 m for a minute", at("22:40"), at("22:41"), None),
    Truth("the tide turns, she swings round", at("23:20"), at("00:20"), None),
    Truth("Old Sexton goes by, far off", at("23:30"), at("01:30"), None, 299000602),
    Truth("Brine Lark comes into the guard zone", at("00:44"), HOURS * 3600, "zone", 299000347),
    Truth("no GNSS fix", at("01:12"), at("01:18"), "feed"),
    Truth("Harrow Tide goes by, close", at("01:50"), at("02:03"), "proximity", 299000518),
    Truth("she passes through the guard zone", at("01:59"), at("02:03"), "zone", 299000518),
    Truth("the anchor drags", at("03:04"), HOURS * 3600, "drag"),
)


def boat_sentences(sample: Sample) -> list[str]:
    """What the boat's own receiver and instruments say at one sample."""
    utc_s = START + sample.t_s
    lat: float | None = None
    lon: float | None = None
    if sample.fix_x_m is not None and sample.fix_y_m is not None:
        place = from_east_north(ANCHOR, sample.fix_x_m, sample.fix_y_m)
        lat, lon = place.lat, place.lon
    lines = [
        sentences.rmc(utc_s, lat, lon, sample.sog_ms, sample.cog_deg),
        sentences.gga(utc_s, lat, lon, sample.hdop),
    ]
    if sample.heading_deg is not None:
        lines.append(sentences.hdt(sample.heading_deg))
    if sample.wind_speed_ms is not None and sample.wind_from_rel_deg is not None:
        lines.append(sentences.mwv(sample.wind_from_rel_deg, sample.wind_speed_ms))
    if sample.depth_m is not None and round(sample.t_s) % 2 == 0:
        lines.append(sentences.dpt(sample.depth_m - TRANSDUCER_M, TRANSDUCER_M))
    return lines


def own_report(sample: Sample) -> str:
    """Our own class B transponder, with a receiver of its own; never a target."""
    place = from_east_north(ANCHOR, sample.antenna_x_m, sample.antenna_y_m)
    return sentences.ais_position(OWN_MMSI, place.lat, place.lon, 0.0, 0.0, class_b=True, own=True)[
        0
    ]


def night(seed: int = 7) -> list[Heard]:
    """Every sentence of the night in order of time."""
    heard = [
        Heard(START + sample.t_s, "boat", line)
        for sample in simulate(plan(seed))
        for line in boat_sentences(sample)
    ]
    heard += [
        Heard(START + sample.t_s + 0.2, "ais", own_report(sample))
        for sample in simulate(plan(seed))
        if round(sample.t_s) % OWN_REPORT_EVERY_S == 0
    ]
    for ship in SHIPS:
        for t_s, lines in ship.reports():
            heard += [Heard(round(START + t_s + 0.4, 3), "ais", line) for line in lines]
    heard.sort(key=lambda h: h.utc_s)
    return heard
