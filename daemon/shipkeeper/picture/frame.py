"""A plane about one place, for very many points: `east_north` without its trigonometry.

The lengths of a degree at the middle latitude of a pair are taken from their value and slope at
the centre. Against words/geo.east_north that is out by 5 parts in a million at 20 miles, 60 N.
"""

from __future__ import annotations

from ..words.geo import LatLon, metres_per_degree

_STEP = 0.01  # degrees, for the slope


class Frame:
    """Metres east and north of `centre`, about the middle latitude of each pair."""

    __slots__ = ("_lon_slope", "_per_lat", "_per_lon", "centre")

    def __init__(self, centre: LatLon) -> None:
        self.centre = centre
        self._per_lon, self._per_lat = metres_per_degree(centre.lat)
        beyond, _ = metres_per_degree(centre.lat + _STEP)
        # Half, because the middle latitude is half way to the other place.
        self._lon_slope = (beyond - self._per_lon) / _STEP / 2

    def at(self, lat: float, lon: float) -> tuple[float, float]:
        dlat = lat - self.centre.lat
        dlon = lon - self.centre.lon
        if not -180.0 <= dlon < 180.0:
            dlon = (dlon + 180.0) % 360.0 - 180.0
        return dlon * (self._per_lon + self._lon_slope * dlat), dlat * self._per_lat
