"""Range and bearing on the ellipsoid against published geodesic lines (source in each row)."""

from __future__ import annotations

import math
import random
from typing import Any

import pytest
from pyproj import Geod

from shipkeeper.words.geo import (
    LatLon,
    angle_difference,
    east_north,
    from_east_north,
    metres_per_degree,
    offset,
    plane_bearing,
    range_bearing,
    velocity,
)
from shipkeeper.words.geodesic import direct, inverse
from shipkeeper.words.units import M_PER_NM

from . import values

LINES = values.rows("geodesics", "geodesic")
ON_WGS84 = [r for r in LINES if r["inputs"]["ellipsoid"] in ("WGS84", "GRS80")]
ON_OTHERS = [r for r in LINES if r not in ON_WGS84]


def end_of(row: dict[str, Any]) -> LatLon:
    inputs, expected = row["inputs"], row["expected"]
    if "lat2" in inputs:
        return LatLon(float(inputs["lat2"]), float(inputs["lon2"]))
    return LatLon(float(expected["lat2_deg"]), float(expected["lon2_deg"]))


@pytest.mark.parametrize("row", ON_WGS84, ids=values.ids)
def test_range_and_bearing(row: dict[str, Any]) -> None:
    """The inverse problem: a hundredth of a millimetre and a billionth of a degree, or what the
    row itself allows (GRS80 and WGS84 differ by 1e-7 m here)."""
    inputs, expected = row["inputs"], row["expected"]
    start = LatLon(float(inputs["lat1"]), float(inputs["lon1"]))
    distance, bearing = range_bearing(start, end_of(row))
    wanted_m = float(inputs.get("s12_m", expected.get("s12_m", 0.0)))
    wanted_deg = float(inputs.get("azi1", expected.get("azi12_deg", expected.get("azi1_deg", 0.0))))
    printed = (
        "boat-scale" in row["id"] or "antipodal" in row["id"] or row["status"] != "read in source"
    )
    assert distance == pytest.approx(wanted_m, abs=0.02 if printed else 1e-5)
    short = distance < 100.0
    assert abs(angle_difference(bearing, wanted_deg)) < (1e-4 if printed or short else 1e-7)


@pytest.mark.parametrize("row", [r for r in ON_WGS84 if "azi1" in r["inputs"]], ids=values.ids)
def test_the_place_reached(row: dict[str, Any]) -> None:
    """The direct problem, to the row's own tolerance."""
    inputs, tolerance = row["inputs"], row["tolerance"]
    start = LatLon(float(inputs["lat1"]), float(inputs["lon1"]))
    there = offset(start, float(inputs["azi1"]), float(inputs["s12_m"]))
    wanted = end_of(row)
    slack = max(float(tolerance.get("deg", 1e-9)), 1e-9)
    assert there.lat == pytest.approx(wanted.lat, abs=slack)
    assert (
        abs(angle_difference(there.lon, wanted.lon)) < slack * 1e4
        if abs(wanted.lat) > 89.9
        else abs(angle_difference(there.lon, wanted.lon)) < slack
    )


@pytest.mark.parametrize("row", ON_OTHERS, ids=values.ids)
def test_the_library_that_we_lean_on(row: dict[str, Any]) -> None:
    """Vincenty's lines of 1975 on other ellipsoids: pyproj, nearly antipodal ones included."""
    inputs, expected = row["inputs"], row["expected"]
    figures = dict(part.split("=") for part in inputs["ellipsoid"].split() if "=" in part)
    geod = Geod(a=float(figures["a"]), rf=float(figures["1/f"]))
    lon, lat, back = geod.fwd(inputs["lon1"], inputs["lat1"], inputs["azi1"], inputs["s12_m"])
    assert lat == pytest.approx(expected["lat2_deg"], abs=3e-8)
    assert lon == pytest.approx(expected["lon2_deg"], abs=3e-8)
    forward = (back + 180.0) % 360.0
    assert abs(angle_difference(forward, expected["azi2_fwd_deg"])) < 3e-8


@pytest.mark.parametrize("row", values.rows("geodesics", "degree-length"), ids=values.ids)
def test_length_of_a_degree(row: dict[str, Any]) -> None:
    """To the metre of the printed table."""
    per_lon, per_lat = metres_per_degree(row["inputs"]["lat"])
    assert per_lat == pytest.approx(row["expected"]["deg_lat_m"], abs=1.0)
    assert per_lon == pytest.approx(row["expected"]["deg_lon_m"], abs=1.0)


@pytest.mark.parametrize("row", values.rows("geodesics", "dead-reckoning"), ids=values.ids)
def test_dead_reckoning_by_middle_latitude(row: dict[str, Any]) -> None:
    """A run on one course, some tens of miles, ends within 20 m of the rhumb line's end."""
    inputs, expected = row["inputs"], row["expected"]
    run = inputs["speed_kn"] * inputs["hours"] * M_PER_NM
    there = from_east_north(LatLon(inputs["lat"], inputs["lon"]), *velocity(run, inputs["course"]))
    off, _ = range_bearing(there, LatLon(expected["lat"], expected["lon"]))
    assert off < 20.0


@pytest.mark.parametrize(
    "row",
    [r for r in ON_WGS84 if 0 < float(r["inputs"].get("s12_m", 0)) < 25_000
     and abs(float(r["inputs"]["lat1"])) < 80],
    ids=values.ids,
)  # fmt: skip
def test_the_flat_plane_is_good_enough(row: dict[str, Any]) -> None:
    """0.01 % and 0.1 m on lines of boat scale (tolerance of the source table)."""
    inputs = row["inputs"]
    east, north = east_north(LatLon(float(inputs["lat1"]), float(inputs["lon1"])), end_of(row))
    distance = float(inputs["s12_m"])
    assert math.hypot(east, north) == pytest.approx(distance, abs=0.1 + 1e-4 * distance)
    assert abs(angle_difference(plane_bearing(east, north), float(inputs["azi1"]))) < 0.3


def test_near_lines_are_those_of_pyproj() -> None:
    """Our own arithmetic for lines up to 100 km, all over the world: a hundredth of a millimetre,
    and the bearing to a thousandth of a second of arc where the line is a cable or more."""
    geod, rng, near = Geod(ellps="WGS84"), random.Random(1), 0
    for _ in range(5000):
        lat = math.degrees(math.asin(rng.uniform(-1, 1)))
        lon, bearing = rng.uniform(-180, 180), rng.uniform(0, 360)
        run_m = 10 ** rng.uniform(-2, 5)
        east, north, _ = geod.fwd(lon, lat, bearing, run_m)
        there = direct(lat, lon, bearing, run_m)
        back = inverse(lat, lon, north, east)
        if there is None or back is None:
            continue
        near += 1
        assert geod.inv(east, north, there[1], there[0])[2] < 1e-5
        azimuth, _, distance = geod.inv(lon, lat, east, north)
        assert back[0] == pytest.approx(distance, abs=1e-5)
        if distance > 185.0:
            assert abs(angle_difference(back[1], azimuth)) < 3e-7
    assert near > 4900


@pytest.mark.parametrize(
    ("start", "end"),
    [
        (LatLon(57.0, -5.0), LatLon(57.0, -5.0)),
        (LatLon(0.0, 0.0), LatLon(0.0, 0.0)),
        (LatLon(90.0, 0.0), LatLon(89.9, 10.0)),
        (LatLon(89.95, 10.0), LatLon(89.95, -170.0)),
        (LatLon(10.0, 179.99), LatLon(10.0, -179.99)),
        (LatLon(0.0, 0.0), LatLon(0.0, 0.5)),
        (LatLon(0.0, 0.0), LatLon(0.5, 179.7)),
    ],
)
def test_places_where_formulas_break(start: LatLon, end: LatLon) -> None:
    """One and the same place, the poles, the antimeridian, the equator, nearly antipodal."""
    azimuth, _, distance = Geod(ellps="WGS84").inv(start.lon, start.lat, end.lon, end.lat)
    range_m, bearing = range_bearing(start, end)
    assert range_m == pytest.approx(distance, abs=1e-5)
    assert abs(angle_difference(bearing, azimuth)) < 1e-6
