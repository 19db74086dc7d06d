"""Geodesics of up to NEAR_M on WGS84 in plain arithmetic: what one boat asks about another.

T. Vincenty, Direct and Inverse Solutions of Geodesics on the Ellipsoid, Survey Review XXIII (1975)
176 (from memory; tests/outside/test_geodesics.py holds it to pyproj within a hundredth of a
millimetre). Longer lines, and those at the poles, are left to pyproj, which a watch need not load
then: it takes eleven megabytes and a third of a second.
"""

from __future__ import annotations

import math

NEAR_M = 100_000.0
HIGHEST_DEG = 89.0
A_M = 6378137.0
F = 1 / 298.257223563
_B_M = A_M * (1 - F)
_E2 = (A_M**2 - _B_M**2) / _B_M**2
_CLOSE = 1e-14  # radians: a ten-thousandth of a millimetre
_ROUNDS = 30


def inverse(lat1: float, lon1: float, lat2: float, lon2: float) -> tuple[float, float] | None:
    """(distance m, initial bearing deg) of two near places; None when they are not near, or are
    one and the same."""
    across = (lon2 - lon1 + 180.0) % 360.0 - 180.0
    if max(abs(lat1), abs(lat2)) > HIGHEST_DEG or abs(lat2 - lat1) > 1.0 or abs(across) > 60.0:
        return None
    s1, c1 = _reduced(lat1)
    s2, c2 = _reduced(lat2)
    difference = lam = math.radians(across)
    for _ in range(_ROUNDS):
        sl, cl = math.sin(lam), math.cos(lam)
        east, north = c2 * sl, c1 * s2 - s1 * c2 * cl
        sin_sigma = math.hypot(east, north)
        if sin_sigma == 0.0:
            return None
        cos_sigma = s1 * s2 + c1 * c2 * cl
        sigma = math.atan2(sin_sigma, cos_sigma)
        sin_alpha = c1 * east / sin_sigma
        cos2_alpha = 1.0 - sin_alpha * sin_alpha
        cos_2m = cos_sigma - 2.0 * s1 * s2 / cos2_alpha if cos2_alpha > 0.0 else 0.0
        c = F / 16.0 * cos2_alpha * (4.0 + F * (4.0 - 3.0 * cos2_alpha))
        inner = cos_2m + c * cos_sigma * (2.0 * cos_2m * cos_2m - 1.0)
        before, lam = lam, difference + (1.0 - c) * F * sin_alpha * (sigma + c * sin_sigma * inner)
        if abs(lam - before) < _CLOSE:
            a, b = _series(cos2_alpha)
            distance = _B_M * a * (sigma - _correction(b, sin_sigma, cos_sigma, cos_2m))
            return (distance, math.degrees(math.atan2(east, north))) if distance <= NEAR_M else None
    return None


def direct(lat: float, lon: float, bearing_deg: float, distance_m: float) -> (
    tuple[float, float] | None
):  # fmt: skip
    """(latitude, longitude) reached; None when that is not near."""
    if abs(lat) > HIGHEST_DEG - 1.0 or not abs(distance_m) <= NEAR_M:
        return None
    angle = math.radians(bearing_deg)
    sin_1, cos_1 = math.sin(angle), math.cos(angle)
    s1, c1 = _reduced(lat)
    sigma_1 = math.atan2(s1, c1 * cos_1)
    sin_alpha = c1 * sin_1
    cos2_alpha = 1.0 - sin_alpha * sin_alpha
    a, b = _series(cos2_alpha)
    first = sigma = distance_m / (_B_M * a)
    for _ in range(_ROUNDS):
        cos_2m = math.cos(2.0 * sigma_1 + sigma)
        sin_sigma, cos_sigma = math.sin(sigma), math.cos(sigma)
        before, sigma = sigma, first + _correction(b, sin_sigma, cos_sigma, cos_2m)
        if abs(sigma - before) < _CLOSE:
            break
    cos_2m = math.cos(2.0 * sigma_1 + sigma)
    sin_sigma, cos_sigma = math.sin(sigma), math.cos(sigma)
    ahead = s1 * sin_sigma - c1 * cos_sigma * cos_1
    lat_2 = math.atan2(
        s1 * cos_sigma + c1 * sin_sigma * cos_1, (1.0 - F) * math.hypot(sin_alpha, ahead)
    )
    lam = math.atan2(sin_sigma * sin_1, c1 * cos_sigma - s1 * sin_sigma * cos_1)
    c = F / 16.0 * cos2_alpha * (4.0 + F * (4.0 - 3.0 * cos2_alpha))
    inner = cos_2m + c * cos_sigma * (2.0 * cos_2m * cos_2m - 1.0)
    across = lam - (1.0 - c) * F * sin_alpha * (sigma + c * sin_sigma * inner)
    return math.degrees(lat_2), lon + math.degrees(across)


def _reduced(lat_deg: float) -> tuple[float, float]:
    """Sine and cosine of the reduced latitude."""
    tangent = (1.0 - F) * math.tan(math.radians(lat_deg))
    cosine = 1.0 / math.sqrt(1.0 + tangent * tangent)
    return tangent * cosine, cosine


def _series(cos2_alpha: float) -> tuple[float, float]:
    """Vincenty's A and B."""
    u2 = cos2_alpha * _E2
    a = 1.0 + u2 / 16384.0 * (4096.0 + u2 * (-768.0 + u2 * (320.0 - 175.0 * u2)))
    b = u2 / 1024.0 * (256.0 + u2 * (-128.0 + u2 * (74.0 - 47.0 * u2)))
    return a, b


def _correction(b: float, sin_sigma: float, cos_sigma: float, cos_2m: float) -> float:
    """Delta sigma: from the sphere to the ellipsoid."""
    square = cos_2m * cos_2m
    third = b / 6.0 * cos_2m * (4.0 * sin_sigma * sin_sigma - 3.0) * (4.0 * square - 3.0)
    return b * sin_sigma * (cos_2m + b / 4.0 * (cos_sigma * (2.0 * square - 1.0) - third))
