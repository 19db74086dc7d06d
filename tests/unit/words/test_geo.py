"""Geometry: the plane against the geodesic, across the antimeridian and near the pole."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.words import geo

LATITUDES = st.floats(-85, 85)
LONGITUDES = st.floats(-180, 180)


@given(LATITUDES, LONGITUDES, st.floats(0, 360), st.floats(1, 10_000))
def test_the_plane_agrees_with_the_geodesic(
    lat: float, lon: float, bearing: float, distance: float
) -> None:
    """Within 10 km the plane's range is the geodesic's to 0.05 % and 0.1 m."""
    start = geo.LatLon(lat, geo.wrap_longitude(lon))
    end = geo.offset(start, bearing, distance)
    if abs(end.lat) > 85:
        return
    east, north = geo.east_north(start, end)
    assert math.hypot(east, north) == pytest.approx(distance, rel=5e-4, abs=0.1)


@given(LATITUDES, LONGITUDES, st.floats(-5000, 5000), st.floats(-5000, 5000))
def test_the_plane_goes_there_and_back(lat: float, lon: float, east: float, north: float) -> None:
    """`from_east_north` undoes `east_north` to a millimetre, also across 180 degrees."""
    start = geo.LatLon(lat, geo.wrap_longitude(lon))
    back = geo.east_north(start, geo.from_east_north(start, east, north))
    assert back == pytest.approx((east, north), abs=1e-3)


def test_the_antimeridian_is_no_wall() -> None:
    """Two places on either side of 180 degrees are near each other."""
    east, north = geo.east_north(geo.LatLon(-17.0, 179.999), geo.LatLon(-17.0, -179.999))
    assert east == pytest.approx(212.96, abs=0.1)
    assert north == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(("a", "b", "turn"), [(10, 350, 20), (350, 10, -20), (180, 0, -180)])
def test_turns_go_the_short_way(a: float, b: float, turn: float) -> None:
    """The signed turn from b to a lies in [-180, 180)."""
    assert geo.angle_difference(a, b) == turn


def test_positions_read_as_a_navigator_writes_them() -> None:
    """Degrees and minutes to the thousandth, never 60.000 minutes."""
    assert geo.format_position(57.1, -5.2) == "57°06.000'N 005°12.000'W"
    assert geo.format_position(-0.9999999, 179.9999999) == "01°00.000'S 180°00.000'E"
