"""Own ship: jumps are held back as lost, headings and winds turned, nothing invented."""

from __future__ import annotations

import pytest

from shipkeeper.picture.own_ship import BELIEVE_JUMP_S, OwnShip
from shipkeeper.words.observations import (
    Depth,
    Heading,
    Position,
    PositionInvalid,
    Variation,
    Velocity,
    Wind,
)


def own() -> OwnShip:
    return OwnShip({"gnss": 0})


def test_a_jump_of_over_100_m_in_a_second_is_lost_not_shown() -> None:
    """alerts.md feature 105: such a fix is held back, and the position is then not known."""
    ship = own()
    assert ship.put_position(Position(50.0, -5.0), "gnss", 0.0)
    assert not ship.put_position(Position(50.01, -5.0), "gnss", 1.0)
    assert ship.position.get(1.0) is None


def test_the_old_place_is_taken_up_again_at_once() -> None:
    """After a single wild fix the next good one counts."""
    ship = own()
    ship.put_position(Position(50.0, -5.0), "gnss", 0.0)
    ship.put_position(Position(51.0, -5.0), "gnss", 1.0)
    assert ship.put_position(Position(50.00001, -5.0), "gnss", 2.0)


def test_a_receiver_that_stays_elsewhere_is_believed_in_the_end() -> None:
    """What was wrong may have been the place before."""
    ship = own()
    ship.put_position(Position(50.0, -5.0), "gnss", 0.0)
    believed = [t for t in range(1, 300) if ship.put_position(Position(51.0, -5.0), "gnss", t)]
    assert believed[0] == 1 + BELIEVE_JUMP_S


def test_a_long_silence_allows_a_long_way() -> None:
    """A boat that was not heard for an hour may be somewhere else."""
    ship = own()
    ship.put_position(Position(50.0, -5.0), "gnss", 0.0)
    assert ship.put_position(Position(50.2, -5.0), "gnss", 3600.0)


def test_an_invalid_fix_takes_the_position_away() -> None:
    """Status V is known at once, with since when."""
    ship = own()
    ship.put_position(Position(50.0, -5.0), "gnss", 0.0)
    ship.put_invalid(PositionInvalid("status V"), "gnss", 1.0)
    assert ship.position.get(1.0) is None
    assert ship.invalid_since == {"gnss": 1.0}


def test_a_magnetic_heading_needs_the_variation() -> None:
    """Without variation there is no true heading, and none is made up."""
    ship = own()
    ship.put_heading(Heading(100.0, magnetic=True), "compass", 0.0)
    assert ship.heading_deg(0.0) is None
    ship.put_variation(Variation(-7.1), "gnss", 0.0)
    assert ship.heading_deg(0.0) == 92.9


def test_apparent_wind_is_true_wind_only_at_rest() -> None:
    """Under way the apparent wind is not taken for the true one."""
    ship = own()
    ship.put_wind(Wind(10.0, 30.0, "apparent"), "wind", 0.0)
    ship.put_heading(Heading(350.0), "compass", 0.0)
    assert ship.wind_over_ground(0.0, at_rest=True) == (10.0, 20.0)
    assert ship.wind_over_ground(0.0, at_rest=False) is None


@pytest.mark.parametrize(
    ("angle_deg", "apparent", "course_deg", "says"),
    [
        (0.0, 15.0, 0.0, (11.0, 0.0)),  # dead ahead, 4 m/s into it
        (180.0, 6.0, 0.0, (10.0, 180.0)),  # running before it
        (90.0, 3.0, 0.0, (5.0, 143.13)),  # 3-4-5: 3 m/s on the beam, 4 m/s made
        (0.0, 10.0, None, None),
        (None, 10.0, 0.0, None),
    ],
)
def test_under_way_own_motion_is_taken_off_the_apparent_wind(
    angle_deg: float | None,
    apparent: float,
    course_deg: float | None,
    says: tuple[float, float] | None,
) -> None:
    """Plane vectors; without angle, course or heading nothing is made up."""
    ship = own()
    ship.put_wind(Wind(apparent, angle_deg, "apparent"), "wind", 0.0)
    ship.velocity.put(Velocity(4.0, course_deg), "gnss", 0.0)
    assert ship.wind_over_ground(0.0, at_rest=False) is None  # no heading yet
    ship.put_heading(Heading(0.0), "compass", 0.0)
    assert ship.wind_over_ground(0.0, at_rest=False) == (says and pytest.approx(says, abs=0.01))


def test_dbt_after_dpt_keeps_the_offset_that_dpt_told() -> None:
    """Many sounders send both for one sounding; DBT has no offset field (NMEA 0183)."""
    ship = own()
    ship.put_depth(Depth(5.0, -1.2), "gnss", 0.0)
    ship.put_depth(Depth(4.9), "gnss", 0.1)
    reading = ship.depth.get(1.0)
    assert reading is not None and reading.value == Depth(4.9, -1.2)


def test_the_offset_is_that_of_its_own_input_and_a_new_one_counts() -> None:
    """Two sounders hang at two places; an offset of zero is one, not none."""
    ship = own()
    ship.put_depth(Depth(5.0, -1.2), "gnss", 0.0)
    ship.put_depth(Depth(7.0), "other", 0.0)
    other = ship.depth.of("other", 1.0)
    assert other is not None and other.value == Depth(7.0)
    ship.put_depth(Depth(5.0, 0.0), "gnss", 2.0)
    ship.put_depth(Depth(5.1), "gnss", 3.0)
    mine = ship.depth.of("gnss", 3.0)
    assert mine is not None and mine.value == Depth(5.1, 0.0)
