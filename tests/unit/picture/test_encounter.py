"""Encounters: hull to hull, on a curve, and what is said of them."""

from __future__ import annotations

import math
import random

import pytest
from shapely.geometry import Polygon

from shipkeeper.picture.encounter import (
    approach,
    curved_approach,
    encounter,
    hull_approach,
)
from shipkeeper.picture.outline import POINT, box, circle
from shipkeeper.words.geo import velocity


def test_hull_approach_against_shapely_in_small_steps() -> None:
    """The least gap of two moving hulls and when it is first reached: shapely in steps of a
    twentieth of a second over random encounters."""
    rng = random.Random(2)
    for _ in range(40):
        own = box(rng.uniform(1, 30), rng.uniform(1, 30), 3.0, 3.0, rng.uniform(0, 360))
        ship = box(rng.uniform(5, 150), rng.uniform(5, 150), 12.0, 9.0, rng.uniform(0, 360))
        east, north = rng.uniform(-900, 900), rng.uniform(-900, 900)
        ve, vn = velocity(rng.uniform(3, 12), rng.uniform(0, 360))
        least, first_s = hull_approach(own, ship, east, north, ve, vn)
        mine = Polygon(own.points)
        best, when = math.inf, 0.0
        for step in range(8000):
            t = step / 20
            between = mine.distance(Polygon(ship.moved(east + ve * t, north + vn * t)))
            if between < best - 1e-9:
                best, when = between, t
            elif between > best + 50.0:
                break
            if best == 0.0:
                break
        assert least == pytest.approx(best, abs=0.7)
        if least == 0.0 or best < between - 50.0:
            assert first_s == pytest.approx(when, abs=0.3)


def test_points_are_an_antenna_encounter() -> None:
    """Without hulls it is the plain CPA."""
    least, first_s = hull_approach(POINT, POINT, 1000.0, 3000.0, 0.0, -10.0)
    assert least == pytest.approx(1000.0, abs=1e-3)
    assert first_s == pytest.approx(300.0, abs=0.01)


def test_circles_touch_before_their_middles_pass() -> None:
    """Two circles of 50 m meet head on after 900 m of the 1,000."""
    least, first_s = hull_approach(circle(50, "", 0), circle(50, "", 0), 0.0, 1000.0, 0.0, -10.0)
    assert least == 0.0
    assert first_s == pytest.approx(90.0, abs=0.01)


def test_hulls_drawing_apart_are_nearest_now() -> None:
    """The least gap from now on is the present one."""
    own, ship = box(10, 10, 2, 2, 0.0), box(50, 50, 8, 8, 90.0)
    least, first_s = hull_approach(own, ship, 500.0, 0.0, 5.0, 0.0)
    assert first_s == 0.0
    assert least == pytest.approx(448.0)


@pytest.mark.parametrize(
    ("bearing", "course", "says"),
    [(60.0, 270.0, "ahead"), (120.0, 270.0, "astern"), (2.0, 180.0, "starboard")],
)
def test_it_says_where_the_target_goes_by(bearing: float, course: float, says: str) -> None:
    """Own course north at 3 m/s; one cuts ahead, one astern, one meets us to starboard."""
    east, north = velocity(3000.0, bearing)
    met = encounter(east, north, velocity(3.0, 0.0), velocity(8.0, course))
    assert met.passes == says


def test_at_rest_the_heading_tells_what_is_ahead() -> None:
    """Without course or heading nobody can say; with a heading the bow line counts."""
    east, north = velocity(2000.0, 45.0)
    target = velocity(8.0, 270.0)
    assert encounter(east, north, (0.0, 0.0), target).passes == ""
    assert encounter(east, north, (0.0, 0.0), target, heading_deg=0.0).passes == "ahead"


@pytest.mark.parametrize("rate", [-90.0, -20.0, 10.0, 45.0, 200.0])
def test_a_curve_against_small_steps(rate: float) -> None:
    """CPA and TCPA on the curve against plain integration in steps of a twentieth second."""
    own, place = velocity(2.0, 80.0), velocity(2500.0, 30.0)
    speed, course = 7.0, 190.0
    cpa, tcpa = curved_approach(*place, own, speed, course, rate)
    x, y = place
    heading, t, best, when = course, 0.0, math.hypot(x, y), 0.0
    lasts = min(180.0, 90.0 / abs(rate) * 60.0)
    while t < 1500.0:
        ve, vn = velocity(speed, heading)
        x, y, t = x + (ve - own[0]) * 0.05, y + (vn - own[1]) * 0.05, t + 0.05
        if t <= lasts:
            heading += rate / 60 * 0.05
        if math.hypot(x, y) < best:
            best, when = math.hypot(x, y), t
    assert cpa == pytest.approx(best, abs=4.0)
    assert tcpa == pytest.approx(when, abs=2.0)


def test_a_slow_turn_is_nearly_straight() -> None:
    """As the rate goes to nothing the curve is the straight course."""
    place, own = velocity(4000.0, 350.0), velocity(0.0, 0.0)
    straight = approach(*place, *velocity(6.0, 160.0))
    cpa, tcpa = curved_approach(*place, own, 6.0, 160.0, 0.01)
    assert cpa == pytest.approx(straight[0], abs=10.0)
    assert straight[1] is not None
    assert tcpa == pytest.approx(straight[1], abs=5.0)
