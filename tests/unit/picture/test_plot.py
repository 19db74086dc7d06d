"""The plot: who is near a place, by a brute-force count; and the frame it is seen in."""

from __future__ import annotations

import math
import random

import pytest

from shipkeeper.picture.frame import Frame
from shipkeeper.picture.tracks import Targets
from shipkeeper.words.geo import LatLon, east_north, from_east_north, wrap_longitude
from shipkeeper.words.observations import AisReport


@pytest.mark.parametrize("centre", [LatLon(57.1, -5.2), LatLon(-17.0, 179.99), LatLon(0.0, 0.0),
                                    LatLon(78.0, 15.0)])  # fmt: skip
def test_nobody_near_is_missed(centre: LatLon) -> None:
    """All within the radius are found, over the antimeridian and in high latitudes too, and
    nobody farther than the corners of the square."""
    rng = random.Random(4)
    targets = Targets()
    for i in range(400):
        east, north = rng.uniform(-9000, 9000), rng.uniform(-9000, 9000)
        place = from_east_north(centre, east, north)
        course = rng.uniform(0, 360)
        targets.report(AisReport(299000000 + i, "A", place.lat, place.lon, 8.0, course), "ais", 0.0)
    now_s, radius = 20.0, 3000.0
    found = {row[0].key for row in targets.plot(now_s).near(centre, radius)}
    for target in targets:
        place_now = target.place_at(now_s)
        assert place_now is not None
        distance = math.hypot(*east_north(centre, place_now))
        if distance <= radius:
            assert target.key in found
        if distance > radius * 1.5:
            assert target.key not in found


@pytest.mark.parametrize("centre", [LatLon(57.1, -5.2), LatLon(-17.0, 179.99), LatLon(84.0, 15.0)])
def test_ships_that_go_on_unheard_are_found_where_they_are_reckoned(centre: LatLon) -> None:
    """Slow and very fast ones, heard now and then, asked for at any moment: the same as by a
    look at every one of them, in order of latitude."""
    rng = random.Random(7)
    targets = Targets()
    now_s = 0.0
    for _ in range(120):
        for _ in range(rng.randrange(12)):
            place = from_east_north(centre, rng.uniform(-2e4, 2e4), rng.uniform(-2e4, 2e4))
            number, speed = rng.randrange(150), rng.choice((0.0, 3.0, 12.0, 60.0, None))
            course = rng.choice((rng.uniform(0, 360), None))
            fact = AisReport(299000000 + number, "B", place.lat, place.lon, speed, course)
            targets.report(fact, "ais", now_s)
        now_s += rng.choice((0.1, 1.0, 20.0, 90.0))
        radius_m = rng.choice((200.0, 3000.0, 30_000.0))
        rows = targets.plot(now_s).near(centre, radius_m)
        assert [row[1] for row in rows] == sorted(row[1] for row in rows)
        found = {row[0].key: (row[1], row[2]) for row in rows}
        for target in targets:
            where = target.place_at(now_s)
            if where is not None and math.hypot(*east_north(centre, where)) <= radius_m:
                lat, lon = found[target.key]
                assert (lat, wrap_longitude(lon)) == (where.lat, where.lon)


def test_made_once_a_moment() -> None:
    """All rules of one tick share it; a new report makes a new one."""
    targets = Targets()
    targets.report(AisReport(299000001, "A", 57.0, -5.0), "ais", 0.0)
    first = targets.plot(1.0)
    assert targets.plot(1.0) is first
    targets.report(AisReport(299000002, "A", 57.0, -5.0), "ais", 1.0)
    assert targets.plot(1.0) is not first


@pytest.mark.parametrize("lat", [0.0, 45.0, 60.0, -70.0])
def test_the_frame_is_the_middle_latitude_plane(lat: float) -> None:
    """Against words/geo.east_north: under 10 m at 20 miles, under a centimetre at one."""
    centre = LatLon(lat, 179.9)
    frame = Frame(centre)
    for bearing in range(0, 360, 30):
        for miles, slack in ((20, 10.0), (1, 0.01)):
            angle = math.radians(bearing)
            reach = miles * 1852.0
            place = from_east_north(centre, reach * math.sin(angle), reach * math.cos(angle))
            exact, quick = east_north(centre, place), frame.at(place.lat, place.lon)
            assert math.hypot(exact[0] - quick[0], exact[1] - quick[1]) < slack
