"""GNSS sentences. Examples by the trade's documents are in tests/outside."""

from __future__ import annotations

import math

import pytest
from tests.unit.feed.said import near, said

from shipkeeper.words.observations import (
    FixQuality,
    Observation,
    Position,
    PositionInvalid,
    UtcTime,
    Variation,
    Velocity,
)

PLACE = "5036.2500,N,00112.5000,W"
HERE = Position(50.604166666666664, -1.2083333333333333)


def kinds(facts: tuple[Observation, ...]) -> list[type]:
    return [type(fact) for fact in facts]


def test_rmc_says_place_motion_time_and_variation() -> None:
    """Everything in SI, variation east positive."""
    facts = said(f"GPRMC,093015.00,A,{PLACE},0.1,215.3,250726,1.2,W,A,V")
    assert facts == (
        HERE,
        Velocity(near(0.051444444), 215.3),
        UtcTime(34215.0, (2026, 7, 25)),
        Variation(-1.2),
    )


@pytest.mark.parametrize(
    "body",
    [
        f"GPRMC,093015.00,V,{PLACE},0.1,215.3,250726,,,A",
        "GPRMC,093015.00,V,,,,,,,250726,,,N",
        "GPRMC,,V,,,,,,,,,,N",
        "GPRMC,,,,,,,,,,,,",
        f"GPRMC,093015.00,A,{PLACE},0.1,215.3,250726,,,N",
        f"GPRMC,093015.00,A,{PLACE},0.1,215.3,250726,,,E",
        f"GPRMC,093015.00,A,{PLACE},0.1,215.3,250726,,,S",
        f"GPRMC,093015.00,A,{PLACE},0.1,215.3,250726,,,M",
        f"GPGLL,{PLACE},093015.00,V,A",
        f"GPGLL,{PLACE},093015.00,A,N",
        f"GPGLL,{PLACE},093015.00,A,E",
        f"GPGGA,093015.00,{PLACE},0,00,,,M,,M,,",
        f"GPGGA,093015.00,{PLACE},6,05,2.0,,M,,M,,",
        f"GPGGA,093015.00,{PLACE},8,05,2.0,,M,,M,,",
        f"GPGGA,093015.00,{PLACE},,05,2.0,,M,,M,,",
        f"GPGGA,093015.00,{PLACE},x,05,2.0,,M,,M,,",
        "GPGGA,,,,,,0,,,,M,,M,,",
        f"GNGNS,093015.00,{PLACE},NN,00,,,,,",
        f"GNGNS,093015.00,{PLACE},EN,00,,,,,",
        f"GNGNS,093015.00,{PLACE},,00,,,,,",
    ],
)
def test_no_fix_is_said_as_no_fix(body: str) -> None:
    """Status V, quality 0, mode N, and modes that are no fix: no place, no motion, no time."""
    facts = said(body)
    assert kinds(facts)[0] is PositionInvalid
    assert set(kinds(facts)) <= {PositionInvalid, FixQuality}
    assert all(
        (f.hdop, f.sigma_m, f.satellites) == (None, None, None)
        for f in facts
        if isinstance(f, FixQuality)
    )


@pytest.mark.parametrize(
    "place",
    [
        ",,,",
        "5036.2500,,00112.5000,W",
        "5036.2500,N,00112.5000,",
        ",N,00112.5000,W",
        "9500.0000,N,00112.5000,W",
        "5075.0000,N,00112.5000,W",
        "5036.2500,N,19000.0000,W",
        "nan,N,nan,W",
        "inf,N,inf,E",
        "50x6.2500,N,00112.5000,W",
    ],
)
def test_a_valid_fix_without_a_place_is_no_place(place: str) -> None:
    """The receiver says 'valid' and gives none that can be: that is no position."""
    for body in (
        f"GPRMC,093015.00,A,{place},0.1,215.3,250726,,,A",
        f"GPGGA,093015.00,{place},1,09,0.9,3.4,M,47.1,M,,",
        f"GPGLL,{place},093015.00,A,A",
        f"GNGNS,093015.00,{place},AA,14,0.7,3.4,47.1,,,V",
    ):
        facts = said(body)
        assert PositionInvalid in kinds(facts)
        assert Position not in kinds(facts)


def test_a_course_is_given_only_where_the_receiver_gives_one() -> None:
    """At rest the field is empty: None, not north."""
    facts = said(f"GPRMC,093015.00,A,{PLACE},0.1,,250726,,,A")
    assert Velocity(near(0.051444444), None) in facts


@pytest.mark.parametrize("speed", ["", "nan", "inf", "-1", "999", "1e3", "x"])
def test_a_speed_that_cannot_be_read_is_no_velocity(speed: str) -> None:
    """Not zero: zero means at rest."""
    facts = said(f"GPRMC,093015.00,A,{PLACE},{speed},215.3,250726,,,A")
    assert Velocity not in kinds(facts)
    assert Position in kinds(facts)


def test_a_bad_date_leaves_the_time_of_day() -> None:
    """Day 32: the time of day may be right, the date is not told."""
    facts = said(f"GPRMC,093015.00,A,{PLACE},0.1,,320726,,,A")
    assert UtcTime(34215.0, None) in facts


def test_rmc_of_three_generations() -> None:
    """2.0 without mode, 2.3 with, 4.1 with navigational status ('V': gives none)."""
    for tail in ("", ",A", ",D,V", ",A,S"):
        assert HERE in said(f"GPRMC,093015.00,A,{PLACE},0.1,,250726,,{tail}")


@pytest.mark.parametrize(
    ("quality", "kind"), [("1", "autonomous"), ("2", "dgps"), ("4", "rtk"), ("5", "rtk")]
)
def test_gga_quality(quality: str, kind: str) -> None:
    """HDOP, satellites, and how the fix was made."""
    facts = said(f"GPGGA,093015.00,{PLACE},{quality},09,0.9,3.4,M,47.1,M,5.0,0120")
    assert facts == (HERE, FixQuality(0.9, None, 9, kind), UtcTime(34215.0))


@pytest.mark.parametrize("hdop", ["", "0", "0.0", "nan", "inf", "-1", "500", "x"])
def test_hdop_that_is_none(hdop: str) -> None:
    """Zero too: no constellation has it, receivers send it for 'not known'."""
    facts = said(f"GPGGA,093015.00,{PLACE},1,,{hdop},3.4,M,47.1,M,,")
    assert FixQuality(None, None, None, "autonomous") in facts


def test_gns_any_system_with_a_fix_is_a_fix() -> None:
    """Modes are one letter a system."""
    facts = said(f"GNGNS,093015.00,{PLACE},NA,14,0.7,3.4,47.1,,,V")
    assert facts == (HERE, FixQuality(0.7, None, 14, "autonomous"), UtcTime(34215.0))
    assert said(f"GNGNS,093015.00,{PLACE},RR,14,0.7,3.4,47.1,,")[1] == FixQuality(
        0.7, None, 14, "rtk"
    )


def test_gll_of_the_old_form_says_nothing() -> None:
    """No status: neither valid nor invalid."""
    assert said(f"GPGLL,{PLACE}") == ()
    assert said(f"GPGLL,{PLACE},093015.00,A") == (HERE, UtcTime(34215.0))


def test_gsa() -> None:
    """HDOP and a fix of two dimensions or none; empty says nothing."""
    assert said("GNGSA,A,3,80,71,,,,,,,,,,,1.83,1.09,1.47") == (FixQuality(hdop=1.09),)
    assert said("GNGSA,A,2,80,71,,,,,,,,,,,1.83,1.09,1.47") == (
        FixQuality(hdop=1.09, fix_kind="2d"),
    )
    assert said("GPGSA,A,1,,,,,,,,,,,,,,,") == (FixQuality(fix_kind="none"),)
    assert said("GPGSA,,,,,,,,,,,,,,,,,") == ()


def test_gst_is_drms() -> None:
    """sqrt of the sum of squares; the ellipse when latitude and longitude lack; never zero."""
    (fact,) = said("GPGST,093015.00,1.2,2.1,1.4,035.0,1.9,1.6,3.0")
    assert fact == FixQuality(sigma_m=near(math.hypot(1.9, 1.6)))
    (fact,) = said("GPGST,093015.00,1.2,2.1,1.4,035.0,,,")
    assert fact == FixQuality(sigma_m=near(math.hypot(2.1, 1.4)))
    for body in (
        "GPGST,093015.00,,,,,,,",
        "GPGST,093015.00,0.0,0.0,0.0,0.0,0.0,0.0,0.0",
        "GPGST,093015.00,1.2,nan,1.4,035.0,inf,1.6,3.0",
        "GPGST,093015.00,1.2,,1.4,035.0,1.9,,3.0",
    ):
        assert said(body) == ()


def test_vtg() -> None:
    """Knots by their letter, else km/h; mode N says nothing."""
    assert said("GPVTG,220.86,T,,M,2.550,N,4.724,K,A") == (Velocity(near(1.311833333), 220.86),)
    assert said("GPVTG,220.86,T,,M,,N,3.6,K,A") == (Velocity(near(1.0), 220.86),)
    assert said("GPVTG,,T,,M,0.020,N,0.038,K,A") == (Velocity(near(0.010288889), None),)
    for body in (
        "GPVTG,220.86,T,,M,2.550,N,4.724,K,N",
        "GPVTG,,T,,M,,N,,K,N",
        "GPVTG,,,,,,,,,",
        "GPVTG,360.0,348.7,000.0,000.0",  # the old form
    ):
        assert said(body) == ()


def test_zda() -> None:
    """Time and date; the zone is not looked at."""
    assert said("GPZDA,160012.71,11,03,2004,-1,00") == (UtcTime(57612.71, (2004, 3, 11)),)
    assert said("GPZDA,160012.71,31,02,2004,,") == (UtcTime(57612.71, None),)
    assert said("GPZDA,160012.71,,,,,") == (UtcTime(57612.71, None),)
    assert said("GPZDA,,11,03,2004,,") == ()
