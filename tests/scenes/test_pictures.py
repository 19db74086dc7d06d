"""What the engine puts into a message for a picture: who lay where when it was raised."""

from __future__ import annotations

import math
from pathlib import Path

import msgspec
import pytest
from tests.scenes.sea import HERE, Sea

from shipkeeper.words.effects import Message
from shipkeeper.words.geo import LatLon, east_north, offset
from shipkeeper.words.scene import Place, Scene

DRAG = """
[drag]
radius = "45 m"
confirm = "5 s"
"""
ZONES = """
[[zone]]
name = "guard zone"
around = "anchor"
ring = { from = "20 m", to = "0.15 NM" }
confirm = "0 s"

[[zone]]
name = "ahead"
around = "ship"
sector = { left = 330, right = 30, from = "0 m", to = "1 NM", bearings = "relative" }
confirm = "0 s"

[[zone]]
name = "reef"
polygon = [[57.10, -5.21], [57.11, -5.21], [57.11, -5.19]]
confirm = "0 s"

[[wind]]
name = "blow"
stronger_than = "25 kn"
confirm = "0 s"
"""


def at_anchor(folder: Path, orders: str) -> Sea:
    sea = Sea(folder, orders)
    sea.run(5)
    args = {"how": "at", "lat": HERE.lat, "lon": HERE.lon, "rode_m": 30.0, "depth_m": 6.0}
    assert sea.obey("anchor", **args).code < 2
    sea.run(2)
    return sea


def scene(sea: Sea, about: str) -> Scene:
    found = [m for m in sea.sends if m.event == "raised" and m.about.startswith(about)]
    assert found and found[-1].scene is not None, [(m.about, m.event) for m in sea.sends]
    return found[-1].scene


def metres(a: Place, b: LatLon) -> float:
    return math.hypot(*east_north(LatLon(*a), b))


def test_a_drag_shows_boat_mark_and_edge(tmp_path: Path) -> None:
    """The place is that of the raise, also in the message as the store gives it back."""
    sea = at_anchor(tmp_path, DRAG)
    sea.heading = 40.0
    sea.own = offset(HERE, 90.0, 70.0)
    sea.run(8)
    found = scene(sea, "drag")
    assert found.vessel == "Curlew" and found.length_m == 11.4 and found.heading_deg == 40.0
    assert metres(found.boat, sea.own) < 0.5
    assert found.mark == pytest.approx((HERE.lat, HERE.lon))
    assert [(r.what, r.radius_m) for r in found.rounds] == [("alarm", 45.0)]
    assert found.other is None
    message = next(m for m in sea.sends if m.scene is not None)
    assert msgspec.json.decode(msgspec.json.encode(message), type=Message) == message


@pytest.mark.parametrize("zone", ["guard-zone", "ahead", "reef"])
def test_a_zone_shows_its_shape_and_who_came(tmp_path: Path, zone: str) -> None:
    sea = at_anchor(tmp_path, ZONES)
    sea.heading = 350.0
    for _ in range(12):
        sea.ship(2, 0, 9000)
        sea.run(32)
    for away_m in range(2400, 200, -40):
        sea.ship(1, 340, away_m, kn=7.8, course=160)
        sea.run(10)
    found = scene(sea, zone)
    assert found.other is not None and found.other.course_deg == pytest.approx(160.0, abs=1.0)
    assert metres(found.other.place, offset(HERE, 340.0, 278.0)) < 1852.0
    if zone == "reef":
        assert len(found.outline) == 3 and found.rounds == ()
    elif zone == "ahead":
        (edge,) = found.rounds
        assert (edge.left_deg, edge.right_deg) == (320.0, 20.0)
        assert edge.radius_m == pytest.approx(1852.0)
    else:
        assert [r.radius_m for r in found.rounds] == [pytest.approx(20.0), pytest.approx(277.8)]


def test_what_has_no_place_has_no_picture(tmp_path: Path) -> None:
    """Wind; and anything while nobody knows where the boat is."""
    sea = at_anchor(tmp_path, ZONES)
    for _ in range(70):
        sea.hear(_wind(40.0), wire="boat")
        sea.run(1)
    raised = [m for m in sea.sends if m.event == "raised" and m.about.startswith("blow")]
    assert raised and all(m.scene is None for m in raised)


def _wind(knots: float) -> str:
    from demo.sentences import KNOT_MS, mwv

    return mwv(10.0, knots * KNOT_MS, "T")
