"""Recorded traffic played to a zone rule, and an oracle that shares nothing with it.

The oracle takes the same reports, moves a ship on along its course by geographiclib's geodesic
(only where the record has speed and course), and asks shapely or geographiclib whether it is
inside. Data: tests/data/tables (NOAA/USCG MarineCadastre, US public domain).
"""

from __future__ import annotations

import csv
import gzip
import io
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from geographiclib.geodesic import Geodesic

from shipkeeper.picture.picture import Picture
from shipkeeper.picture.watch import AnchorMark, WatchSet
from shipkeeper.rules.zone import Zone
from shipkeeper.words.observations import AisReport, AisStatic, Position
from shipkeeper.words.orders import Vessel
from shipkeeper.words.units import MS_PER_KN

TABLES = Path(__file__).parent.parent / "data" / "tables"
VESSEL = Vessel(name="Curlew", length_m=11.4, beam_m=3.6)
KEEP_S = 1800.0  # a ship that is silent for longer is forgotten
WAY_MS = 0.26


@dataclass(frozen=True)
class Row:
    """One report."""

    ship: int
    at_s: float
    lat: float
    lon: float
    speed_ms: float | None
    course_deg: float | None
    heading_deg: float | None
    station: str
    length_m: float | None
    beam_m: float | None


def read(name: str) -> list[Row]:
    """The table in order of time; ships numbered by their pseudonyms."""
    text = gzip.decompress((TABLES / name).read_bytes()).decode()
    rows = [_row(raw) for raw in csv.DictReader(io.StringIO(text))]
    return sorted(rows, key=lambda row: (row.at_s, row.ship))


def _row(raw: dict[str, str]) -> Row:
    def number(key: str) -> float | None:
        return float(raw[key]) if raw[key] else None

    speed, heading = number("sog_kn"), number("hdg_deg")
    return Row(
        ship=int(raw["id"][1:]),
        at_s=datetime.fromisoformat(raw["t_utc"] + "+00:00").timestamp(),
        lat=float(raw["lat"]),
        lon=float(raw["lon"]),
        speed_ms=None if speed is None else speed * MS_PER_KN,
        course_deg=number("cog_deg"),
        heading_deg=None if heading is None or heading >= 360 else heading,
        station=raw["class"] or "A",
        length_m=number("length_m"),
        beam_m=number("beam_m"),
    )


Transition = tuple[int, float, bool]  # ship, when, inside


def by_rule(rows: list[Row], rule: Zone, own: tuple[float, float]) -> list[Transition]:
    """What the rule says, as an alert without delays and deadband would show it."""
    scene = Picture(VESSEL, {}, rows[0].at_s)
    scene.watch = WatchSet(
        watch="anchored", mark=AnchorMark(lat=own[0], lon=own[1], set_at_s=rows[0].at_s)
    )
    found: list[Transition] = []
    open_keys: set[str] = set()
    for now_s, batch in seconds(rows):
        scene.take(Position(*own), "gnss", now_s)
        for row in batch:
            mmsi = 299_000_000 + row.ship
            report = AisReport(
                mmsi, row.station, row.lat, row.lon, row.speed_ms, row.course_deg, row.heading_deg
            )
            scene.take(report, "ais", row.at_s)
            if row.length_m and row.beam_m:
                half, side = row.length_m / 2, row.beam_m / 2
                size = AisStatic(mmsi, None, None, None, half, half, side, side)
                scene.take(size, "ais", row.at_s)
        scene.targets.sweep(now_s)
        judged = rule.judge(scene, now_s, frozenset(open_keys))
        for verdict in judged.verdicts:
            key = verdict.subject.key
            ship = int(key.split(":")[1]) - 299_000_000
            if verdict.holds and key not in open_keys:
                open_keys.add(key)
                found.append((ship, now_s, True))
            elif verdict.is_gone and key in open_keys:
                open_keys.discard(key)
                found.append((ship, now_s, False))
    return found


Asked = Callable[[Row, float, float], bool]  # row, lat, lon


def by_oracle(
    rows: list[Row], inside: Asked, near: tuple[float, float], far_deg: float = 0.04
) -> list[Transition]:
    """The same by brute force: every ship, every second. Ships that reported more than
    `far_deg` from `near` are not reckoned on, which only saves time."""
    latest: dict[int, Row] = {}
    was: set[int] = set()
    found: list[Transition] = []
    for now_s, batch in seconds(rows):
        moved = {row.ship for row in batch}
        for row in batch:
            latest[row.ship] = row
        for ship, row in latest.items():
            still = not (row.speed_ms and row.course_deg is not None and row.speed_ms >= WAY_MS)
            if still and ship not in moved and now_s - row.at_s <= KEEP_S:
                continue  # nothing has changed since it was looked at
            off = max(abs(row.lat - near[0]), abs(row.lon - near[1]))
            is_in = now_s - row.at_s <= KEEP_S and off <= far_deg
            is_in = is_in and inside(row, *_reckoned(row, now_s))
            if is_in != (ship in was):
                (was.add if is_in else was.discard)(ship)
                found.append((ship, now_s, is_in))
    return found


def seconds(rows: list[Row]) -> Iterator[tuple[float, list[Row]]]:
    """The whole grid of seconds from the first report to a minute past the last."""
    at, i = math.ceil(rows[0].at_s), 0
    while at <= rows[-1].at_s + 60:
        batch = []
        while i < len(rows) and rows[i].at_s <= at:
            batch.append(rows[i])
            i += 1
        yield float(at), batch
        at += 1


def _reckoned(row: Row, now_s: float) -> tuple[float, float]:
    if row.speed_ms is None or row.course_deg is None or row.speed_ms < WAY_MS:
        return row.lat, row.lon
    run = row.speed_ms * (now_s - row.at_s)
    there = Geodesic.WGS84.Direct(row.lat, row.lon, row.course_deg, run)
    return there["lat2"], there["lon2"]
