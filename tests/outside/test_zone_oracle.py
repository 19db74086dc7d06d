"""Zones on recorded traffic: the same transitions as a brute-force oracle.

Oracle: shapely for polygons and hulls, geographiclib for ranges, bearings and dead reckoning
(see traffic.py). Data: NOAA/USCG MarineCadastre, US public domain. Confirm, clear and deadband
are 0. None may be missing, none extra, and times agree within one report interval; in truth
they agree within the few seconds that a course makes of the last metre.
"""

from __future__ import annotations

import math
from collections import defaultdict
from functools import cache

import pytest
from geographiclib.geodesic import Geodesic
from shapely.affinity import rotate, translate
from shapely.geometry import Point, Polygon, box

from shipkeeper.rules.filters import Ignore
from shipkeeper.rules.zone import ZoneOrders
from shipkeeper.rules.zone_orders import Ring, Sector

from . import traffic
from .traffic import Row, Transition

HARBOUR = (40.655, -74.045)
ROADS = (36.955, -76.33)
NOBODY = Ignore(kinds=(), radar_younger_than_s=0.0)


@cache
def table(name: str) -> list[Row]:
    return traffic.read(name)


def zone(**keys: object) -> ZoneOrders:
    plain: dict[str, object] = {
        "name": "z", "confirm_s": 0.0, "clear_s": 0.0, "deadband_m": 0.0,
        "accept_present": False, "ignore": NOBODY, "measure": "antenna", "lost_after": 0,
    }  # fmt: skip
    return ZoneOrders(**(plain | keys))  # type: ignore[arg-type]  # keys of many types, by name


def agree(mine: list[Transition], theirs: list[Transition], within_s: float) -> int:
    """Ship by ship the same ins and outs, in order; returns how many there were."""
    ours: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    others: dict[int, list[tuple[float, bool]]] = defaultdict(list)
    for ship, at_s, inside in mine:
        ours[ship].append((at_s, inside))
    for ship, at_s, inside in theirs:
        others[ship].append((at_s, inside))
    assert set(ours) == set(others)
    for ship, wanted in others.items():
        assert [i for _, i in ours[ship]] == [i for _, i in wanted], f"ship {ship}"
        for (a_s, _), (b_s, _) in zip(ours[ship], wanted, strict=True):
            assert abs(a_s - b_s) <= within_s, f"ship {ship} at {b_s}"
    return len(mine)


def in_ring(centre: tuple[float, float], to_m: float, from_m: float = 0.0) -> traffic.Asked:
    def inside(row: Row, lat: float, lon: float) -> bool:
        distance = Geodesic.WGS84.Inverse(*centre, lat, lon)["s12"]
        return bool(from_m <= distance <= to_m)

    return inside


@pytest.mark.parametrize("to_m", [463.0, 1852.0])
def test_rings_on_positions_alone(to_m: float) -> None:
    """Ten hours of a roadstead, no speeds: every in and out at the second of the report."""
    rows = table("roads_half_day.csv.gz")[:2500]
    rule = zone(around=ROADS, ring=Ring(to_m=to_m)).build(traffic.VESSEL)
    mine = traffic.by_rule(rows, rule, ROADS)
    theirs = traffic.by_oracle(rows, in_ring(ROADS, to_m), ROADS)
    assert agree(mine, theirs, 1.0) > 0


def test_a_polygon_on_positions_alone() -> None:
    """A polygon that is not convex, by shapely in latitude and longitude."""
    corners = ((36.93, -76.36), (36.98, -76.38), (36.99, -76.28), (36.96, -76.32), (36.92, -76.27))
    shape = Polygon([(lon, lat) for lat, lon in corners])
    rows = table("roads_half_day.csv.gz")[:2500]
    rule = zone(polygon=corners).build(traffic.VESSEL)
    mine = traffic.by_rule(rows, rule, ROADS)
    theirs = traffic.by_oracle(
        rows, lambda row, lat, lon: bool(shape.contains(Point(lon, lat))), ROADS, 0.2
    )
    assert agree(mine, theirs, 1.0) > 5


def test_a_ring_in_a_busy_harbour() -> None:
    """Half an hour of some 150 ships with speed and course, dead-reckoned between reports."""
    rows = table("harbour_hour.csv.gz")[:2200]
    rule = zone(around="ship", ring=Ring(from_m=200.0, to_m=1000.0)).build(traffic.VESSEL)
    mine = traffic.by_rule(rows, rule, HARBOUR)
    theirs = traffic.by_oracle(rows, in_ring(HARBOUR, 1000.0, 200.0), HARBOUR)
    assert agree(mine, theirs, 5.0) > 20


def test_a_sector_in_a_busy_harbour() -> None:
    """A true sector through north, by geographiclib's bearing and range."""

    def inside(row: Row, lat: float, lon: float) -> bool:
        line = Geodesic.WGS84.Inverse(*HARBOUR, lat, lon)
        bearing = line["azi1"] % 360.0
        return bool(line["s12"] <= 2500.0 and (bearing >= 300.0 or bearing <= 80.0))

    rows = table("harbour_hour.csv.gz")[:2200]
    shape = Sector(left=300.0, right=80.0, to_m=2500.0, bearings="true")
    rule = zone(around="ship", sector=shape).build(traffic.VESSEL)
    mine = traffic.by_rule(rows, rule, HARBOUR)
    assert agree(mine, traffic.by_oracle(rows, inside, HARBOUR), 5.0) > 20


def hull(row: Row, lat: float, lon: float) -> Polygon:
    """The outline in metres about HARBOUR, by shapely; only for ships that tell all of it."""
    line = Geodesic.WGS84.Inverse(*HARBOUR, lat, lon)
    angle = math.radians(line["azi1"])
    x, y = line["s12"] * math.sin(angle), line["s12"] * math.cos(angle)
    assert row.length_m and row.beam_m and row.heading_deg is not None
    half, side = row.length_m / 2, row.beam_m / 2
    ship = rotate(box(-side, -half, side, half), -row.heading_deg, origin=(0, 0))
    return translate(ship, x, y)


def test_hulls_in_a_busy_harbour() -> None:
    """Hulls against a ring about a place: shapely's distance from the place to the outline."""
    rows = [
        r for r in table("harbour_hour.csv.gz")
        if r.length_m and r.beam_m and r.heading_deg is not None and r.length_m > 20
    ]  # fmt: skip
    rule = zone(around=HARBOUR, ring=Ring(to_m=900.0), measure="hull").build(traffic.VESSEL)
    mine = traffic.by_rule(rows, rule, HARBOUR)
    theirs = traffic.by_oracle(
        rows,
        lambda row, lat, lon: bool(hull(row, lat, lon).distance(Point(0, 0)) <= 900.0),
        HARBOUR,
    )
    assert agree(mine, theirs, 5.0) > 10
