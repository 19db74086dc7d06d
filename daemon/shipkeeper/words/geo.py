"""Geometry on the WGS84 ellipsoid: range and bearing, and a flat plane for two near points.

Two tools, each for its job. `range_bearing` and `offset` are geodesics (geodesic.py, beyond its
reach pyproj): exact, some microseconds a call, for what a person reads. `east_north` is the
mid-latitude projection with the ellipsoid's radii of curvature: plain arithmetic, for what is
judged a thousand times a second. Projecting about the middle of the pair, not about own ship,
keeps CPA within 2 m and 0.5 s of the geodesic minimum out to 20 NM at 60 N, where a plane about
own ship is 184 m off (computed for the project; see tests/outside).
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import msgspec

from .geodesic import direct, inverse

if TYPE_CHECKING:
    from pyproj import Geod

WGS84_A_M = 6378137.0
WGS84_F = 1 / 298.257223563
LONGEST_DEGREE_M = 111_700.0  # of latitude, at the poles; those of longitude are shorter
_E2 = WGS84_F * (2 - WGS84_F)


class LatLon(msgspec.Struct, frozen=True, gc=False, array_like=True):
    """A place: degrees north and east, longitude within [-180, 180)."""

    lat: float
    lon: float

    def __str__(self) -> str:
        return format_position(self.lat, self.lon)


def wrap_longitude(lon_deg: float) -> float:
    """Any longitude -> [-180, 180)."""
    return (lon_deg + 180.0) % 360.0 - 180.0


def wrap_bearing(bearing_deg: float) -> float:
    """Any angle -> [0, 360)."""
    wrapped = bearing_deg % 360.0
    return 0.0 if wrapped == 360.0 else wrapped


def angle_difference(a_deg: float, b_deg: float) -> float:
    """Signed turn from b to a, degrees within [-180, 180)."""
    return (a_deg - b_deg + 180.0) % 360.0 - 180.0


@cache
def _geod() -> Geod:
    # Imported late: pyproj costs a third of a second and ten megabytes at start.
    from pyproj import Geod

    return Geod(ellps="WGS84")


def range_bearing(start: LatLon, end: LatLon) -> tuple[float, float]:
    """Geodesic distance (m) and initial true bearing (deg, [0, 360))."""
    near = inverse(start.lat, start.lon, end.lat, end.lon)
    if near is not None:
        return near[0], wrap_bearing(near[1])
    azimuth, _, distance = _geod().inv(start.lon, start.lat, end.lon, end.lat)
    return float(distance), wrap_bearing(float(azimuth))


def offset(start: LatLon, bearing_deg: float, distance_m: float) -> LatLon:
    """The place reached along the geodesic from `start`."""
    near = direct(start.lat, start.lon, bearing_deg, distance_m)
    if near is not None:
        return LatLon(near[0], wrap_longitude(near[1]))
    lon, lat, _ = _geod().fwd(start.lon, start.lat, bearing_deg, distance_m)
    return LatLon(float(lat), wrap_longitude(float(lon)))


def metres_per_degree(lat_deg: float) -> tuple[float, float]:
    """Length of a degree of longitude and of latitude (m) there: N cos(lat) and M, WGS84."""
    s = math.sin(math.radians(lat_deg))
    w2 = 1.0 - _E2 * s * s
    w = math.sqrt(w2)
    prime_vertical = WGS84_A_M / w
    meridian = WGS84_A_M * (1.0 - _E2) / (w2 * w)
    per_lon = math.radians(prime_vertical) * math.cos(math.radians(lat_deg))
    return per_lon, math.radians(meridian)


def east_north(start: LatLon, end: LatLon) -> tuple[float, float]:
    """`end` seen from `start`, metres east and north, about their middle latitude."""
    per_lon, per_lat = metres_per_degree((start.lat + end.lat) / 2)
    dlon = (end.lon - start.lon + 180.0) % 360.0 - 180.0
    return dlon * per_lon, (end.lat - start.lat) * per_lat


def from_east_north(start: LatLon, east_m: float, north_m: float) -> LatLon:
    """Inverse of `east_north` (to well under a millimetre within some miles)."""
    lat = start.lat
    for _ in range(3):
        per_lon, per_lat = metres_per_degree((start.lat + lat) / 2)
        lat = start.lat + north_m / per_lat
    return LatLon(lat, wrap_longitude(start.lon + east_m / per_lon))


def plane_bearing(east_m: float, north_m: float) -> float:
    """True bearing of a vector, degrees [0, 360)."""
    return wrap_bearing(math.degrees(math.atan2(east_m, north_m)))


def velocity(speed_ms: float, course_deg: float) -> tuple[float, float]:
    """Speed and course -> metres a second east and north."""
    angle = math.radians(course_deg)
    return speed_ms * math.sin(angle), speed_ms * math.cos(angle)


def format_position(lat: float, lon: float) -> str:
    """57.10001, -5.20002 -> '57°06.001'N 005°12.001'W', as a navigator writes it."""
    return f"{_dm(lat, 2, 'N', 'S')} {_dm(lon, 3, 'E', 'W')}"


def _dm(value: float, width: int, positive: str, negative: str) -> str:
    thousandths = round(abs(value) * 60_000)
    degrees, rest = divmod(thousandths, 60_000)
    return f"{degrees:0{width}d}°{rest / 1000:06.3f}'{positive if value >= 0 else negative}"
