"""Membership of sectors, exact: limits closed, clockwise from left to right, through north.

Points and answers: the exact sector table of the project's check values (arithmetic, no source
needed); places on the ellipsoid by pyproj's geodesics, so that bearing and range are exact.
"""

from __future__ import annotations

import math
import random

import pytest

from shipkeeper.picture.outline import POINT
from shipkeeper.picture.picture import Picture
from shipkeeper.picture.watch import WatchSet
from shipkeeper.rules.zone import ZoneOrders
from shipkeeper.rules.zone_orders import Sector
from shipkeeper.rules.zone_shapes import Sector as Shape
from shipkeeper.words.geo import LatLon, offset
from shipkeeper.words.observations import AisReport, Heading, Position
from shipkeeper.words.orders import Vessel
from shipkeeper.words.units import M_PER_NM

VESSEL = Vessel(name="Curlew", length_m=11.4, beam_m=3.6)
HERE = LatLon(57.1, -5.2)

# (left, right, from NM, to NM), inside, outside; each point (bearing, range NM)
Limits = tuple[float, float, float, float]
Points = list[tuple[float, float]]
TABLE: list[tuple[Limits, Points, Points]] = [
    ((350, 10, 0.2, 1.0), [(0, 0.5), (350, 0.5), (10, 1.0)],
     [(349.9, 0.5), (10.1, 0.5), (5, 0.19), (5, 1.01), (180, 0.5)]),
    ((30, 120, 0.0, 2.0), [(75, 1), (120, 2)], [(29, 1), (121, 1)]),
    ((0, 360, 0.1, 0.5), [(123, 0.3)], [(123, 0.05)]),
    ((200, 160, 0.0, 1.0), [(0, 0.5)], [(180, 0.5), (199, 0.5), (161, 0.5)]),
]  # fmt: skip
CASES = [
    (limits, point, wanted)
    for limits, inside, outside in TABLE
    for points, wanted in ((inside, True), (outside, False))
    for point in points
]


def is_inside(
    limits: tuple[float, float, float, float],
    point: tuple[float, float],
    *,
    bearings: str = "true",
    heading: float | None = None,
    centre: LatLon = HERE,
) -> bool:
    left, right, from_nm, to_nm = limits
    scene = Picture(VESSEL, {}, 0.0)
    scene.watch = WatchSet(watch="anchored")
    scene.take(Position(centre.lat, centre.lon), "gnss", 10.0)
    if heading is not None:
        scene.take(Heading(heading), "gnss", 10.0)
    there = offset(centre, point[0], point[1] * M_PER_NM)
    scene.take(AisReport(299000001, "A", there.lat, there.lon, 0.0, None), "ais", 10.0)
    shape = Sector(
        left=left,
        right=right,
        from_m=from_nm * M_PER_NM,
        to_m=to_nm * M_PER_NM,
        bearings="relative" if bearings == "relative" else "true",
    )
    rule = ZoneOrders(name="s", sector=shape, measure="antenna", accept_present=False).build(VESSEL)
    judged = rule.judge(scene, 10.0, frozenset())
    assert not judged.missing
    return bool(judged.verdicts)


@pytest.mark.parametrize(("limits", "point", "wanted"), CASES)
def test_the_table(
    limits: tuple[float, float, float, float], point: tuple[float, float], wanted: bool
) -> None:
    """As printed, at 57 N, at the equator, over the antimeridian and in the far south."""
    for centre in (HERE, LatLon(0.0, 0.0), LatLon(-17.0, 179.9999), LatLon(-54.8, -68.3)):
        assert is_inside(limits, point, centre=centre) is wanted


@pytest.mark.parametrize(("limits", "point", "wanted"), CASES)
@pytest.mark.parametrize("heading", [0.0, 37.0, 359.0])
def test_relative_sectors_turn_with_the_heading(
    limits: tuple[float, float, float, float],
    point: tuple[float, float],
    wanted: bool,
    heading: float,
) -> None:
    """The same table, all bearings from the bow."""
    turned = ((point[0] + heading) % 360.0, point[1])
    assert is_inside(limits, turned, bearings="relative", heading=heading) is wanted


@pytest.mark.parametrize(
    ("left", "right", "inner", "area"),
    [(0, 90, 0.0, 0.785398), (330, 30, 0.5, 0.392699), (350, 10, 0.0, 0.174533)],
)
def test_areas(left: float, right: float, inner: float, area: float) -> None:
    """Areas of unit sectors (exact: half the angle times the squares' difference), by counting
    40,000 points; the seed is fixed."""
    shape = Shape(HERE, POINT, inner * 1000, 1000.0, left, right)
    rng = random.Random(7)
    hits, n = 0, 40_000
    for _ in range(n):
        x, y = rng.uniform(-1000, 1000), rng.uniform(-1000, 1000)
        lat = HERE.lat + y / 111_350.0  # metres to degrees, near enough for an area
        lon = HERE.lon + x / (111_350.0 * math.cos(math.radians(HERE.lat)) * 1.0023)
        hits += shape.outside_m(lat, lon, POINT) == 0.0
    assert 4.0 * hits / n == pytest.approx(area, rel=0.03)
