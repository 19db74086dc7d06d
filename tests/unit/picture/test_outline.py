"""Hulls: what is known, what is assumed, and the distance between two of them."""

from __future__ import annotations

import math
import random

import pytest
from shapely.geometry import Point, Polygon

from shipkeeper.picture.outline import (
    POINT,
    Outline,
    box,
    circle,
    gap,
    own_outline,
    target_outline,
)
from shipkeeper.picture.plane import hull_far
from shipkeeper.picture.targets import Target
from shipkeeper.words.orders import Antenna, Vessel


def ship(**known: object) -> Target:
    target = Target("ais:299000001", "ais", 0.0)
    target.station, target.mmsi = "A", 299000001
    for name, value in known.items():
        setattr(target, name, value)
    return target


def sized(a: float, b: float, c: float, d: float, **known: object) -> Target:
    return ship(to_bow_m=a, to_stern_m=b, to_port_m=c, to_starboard_m=d, **known)


def test_dimensions_and_heading_make_a_rectangle() -> None:
    """A 80 ahead, B 20 astern, C 5 to port, D 10 to starboard, heading east."""
    outline = target_outline(sized(80.0, 20.0, 5.0, 10.0, heading_deg=90.0))
    corners = sorted((round(x), round(y)) for x, y in outline.points)
    assert corners == [(-20, -10), (-20, 5), (80, -10), (80, 5)]
    assert outline.assumed == ""
    assert outline.doubt_m == 0.0


def test_course_serves_for_heading_when_making_way() -> None:
    """And it is said."""
    outline = target_outline(sized(50.0, 50.0, 8.0, 8.0, speed_ms=5.0, course_deg=0.0))
    assert max(y for _, y in outline.points) == pytest.approx(50.0)
    assert outline.assumed == "heading from course"


def test_at_rest_without_heading_a_circle_of_the_largest_arm() -> None:
    """Nobody knows which way she lies: the circle of her largest arm."""
    outline = target_outline(sized(80.0, 20.0, 5.0, 10.0, speed_ms=0.1, course_deg=77.0))
    assert outline.radius_m == 80.0
    assert outline.assumed == "heading unknown"


@pytest.mark.parametrize(
    ("known", "assumed", "length"),
    [
        ({}, "size assumed", 60.0),
        ({"station": "B"}, "size assumed", 20.0),
        ({"to_stern_m": 100.0, "to_starboard_m": 16.0}, "antenna assumed amidships", 100.0),
        (
            {"to_bow_m": 0.0, "to_port_m": 0.0, "to_stern_m": 90.0, "to_starboard_m": 12.0},
            "antenna assumed amidships",
            90.0,
        ),
        ({"to_bow_m": 30.0, "to_stern_m": 10.0}, "beam assumed", 40.0),
    ],
)
def test_what_is_not_told_is_assumed_and_said(
    known: dict[str, object], assumed: str, length: float
) -> None:
    """Class defaults; length and beam alone; length alone. The doubt is told in metres."""
    outline = target_outline(ship(heading_deg=0.0, **known))
    ys = [y for _, y in outline.points]
    assert max(ys) - min(ys) == pytest.approx(length)
    assert outline.assumed == assumed
    assert outline.doubt_m > 0.0


def test_buoys_and_beacons_are_points() -> None:
    """A beacon has no hull."""
    assert target_outline(ship(station="sart")) is POINT


def test_a_new_report_makes_a_new_hull() -> None:
    """The hull is kept between reports and made anew at the next."""
    target = sized(50.0, 50.0, 8.0, 8.0, heading_deg=0.0)
    first = target_outline(target)
    assert target_outline(target) is first
    target.put_place(57.0, -5.0, 10.0)
    target.heading_deg = 90.0
    target.put_motion(0.0, None)
    assert target_outline(target) is not first


def test_own_hull_about_the_antenna() -> None:
    """Antenna 8.9 m from the bow, 1.8 from port, of 11.4 by 3.6 m, heading north."""
    antenna = Antenna(from_bow_m=8.9, from_port_m=1.8)
    vessel = Vessel(name="Curlew", length_m=11.4, beam_m=3.6, antenna=antenna)
    outline = own_outline(vessel, 0.0)
    assert max(y for _, y in outline.points) == pytest.approx(8.9)
    assert min(y for _, y in outline.points) == pytest.approx(-2.5)
    assert outline.assumed == ""
    assert own_outline(vessel, None).radius_m == pytest.approx(8.9)
    assert own_outline(vessel, None, (3.0, 90.0)).radius_m == 0.0


def test_hull_to_hull_against_shapely() -> None:
    """Within 5 m of shapely over random pairs (2,000 here, 10,000 in tests/bench/hull_pairs.py):
    rectangles, circles and points, near and far. In truth to a millimetre."""
    assert worst_of_random_pairs(2000, seed=11) < 0.001


def worst_of_random_pairs(count: int, seed: int) -> float:
    """The worst difference from shapely's distance, m."""
    rng = random.Random(seed)
    worst = 0.0
    for _ in range(count):
        one, other = _random(rng), _random(rng)
        distance = rng.choice((rng.uniform(0, 700), rng.uniform(0, 8000)))
        angle = rng.uniform(0, 2 * math.pi)
        east, north = distance * math.sin(angle), distance * math.cos(angle)
        between = _shape(one, 0.0, 0.0).distance(_shape(other, east, north))
        truth = max(0.0, between - one.radius_m - other.radius_m)
        worst = max(worst, abs(gap(one, other, east, north) - truth))
    return worst


def _random(rng: random.Random) -> Outline:
    kind = rng.random()
    if kind < 0.1:
        return POINT
    if kind < 0.25:
        return circle(rng.uniform(1, 300), "", 0.0)
    arms = (rng.uniform(0, 300), rng.uniform(1, 300), rng.uniform(0, 40), rng.uniform(1, 40))
    return box(*arms, rng.uniform(0, 360))


def _shape(outline: Outline, east: float, north: float) -> Point | Polygon:
    moved = outline.moved(east, north)
    return Point(moved[0]) if len(moved) == 1 else Polygon(moved)


def test_the_farthest_part_against_shapely() -> None:
    """The farthest point of one hull from another, by shapely at the corners."""
    rng = random.Random(5)
    for _ in range(300):
        one = box(rng.uniform(1, 50), rng.uniform(1, 50), 3.0, 4.0, rng.uniform(0, 360))
        other = box(rng.uniform(1, 150), rng.uniform(1, 150), 9.0, 12.0, rng.uniform(0, 360))
        moved = other.moved(rng.uniform(-300, 300), rng.uniform(-300, 300))
        truth = max(Polygon(one.points).distance(Point(p)) for p in moved)
        assert hull_far(one.points, moved) == pytest.approx(truth, abs=1e-6)
