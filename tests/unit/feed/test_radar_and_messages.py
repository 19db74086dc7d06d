"""Radar echoes; texts and commands of other equipment."""

from __future__ import annotations

import pytest
from tests.unit.feed.said import heard, near, said, sentence

from shipkeeper.words.observations import (
    AlertCommand,
    RadarEcho,
    RadarPlace,
    ReceiverText,
)


def echo(body: str) -> RadarEcho:
    (fact,) = said(body)
    assert isinstance(fact, RadarEcho)
    return fact


def test_ttm_true() -> None:
    """Range in metres, speed in m/s, angles as they are flagged."""
    assert echo("RATTM,07,1.25,045.0,T,12.3,215.0,T,0.20,5.5,N,TGT07,T,,093015.00,A") == RadarEcho(
        number=7,
        range_m=2315.0,
        bearing_deg=45.0,
        bearing_relative=False,
        speed_ms=near(6.327666667),
        course_deg=215.0,
        course_relative=False,
        status="tracking",
        name="TGT07",
        reference=False,
    )


def test_ttm_relative_angles_are_flagged() -> None:
    """A bearing against the bow is not a true one, nor a relative course."""
    one = echo("RATTM,08,1.25,045.0,R,12.3,215.0,R,0.20,-5.5,N,,L,R,093015.00,M")
    assert (one.bearing_relative, one.course_relative) == (True, True)
    assert (one.status, one.reference) == ("lost", True)


@pytest.mark.parametrize(
    ("unit", "range_m", "speed_ms"),
    [("N", 1852.0, 0.514444444), ("K", 1000.0, 0.277777778), ("S", 1609.344, 0.44704)],
)
def test_ttm_units(unit: str, range_m: float, speed_ms: float) -> None:
    """N miles and knots, K kilometres, S statute miles."""
    one = echo(f"RATTM,8,1,045.0,T,1,215.0,T,,,{unit},,T,,,M")
    assert (one.range_m, one.speed_ms) == (near(range_m), near(speed_ms))


def test_ttm_absent_fields_are_none() -> None:
    """No unit: neither range nor speed; no T or R: no angle."""
    one = echo("RATTM,8,1.25,045.0,,12.3,215.0,,,,,,Q,,,M")
    assert (one.range_m, one.bearing_deg, one.speed_ms, one.course_deg) == (None,) * 4
    assert one.status == "acquiring"
    one = echo("RATTM,8,,,T,,,T,,,N,,T,,,M")
    assert (one.range_m, one.bearing_deg, one.speed_ms, one.course_deg) == (None,) * 4


@pytest.mark.parametrize(
    "body",
    [
        "RATTM,,1,2,T,3,4,T,,,N,,T,,,",
        "RATTM,8,1,2,T,3,4,T,,,N,,,,,",
        "RATTM,8,1,2,T,3,4,T,,,N,,X,,,",
        "RATTM,1024,1,2,T,3,4,T,,,N,,T,,,",
    ],
)
def test_ttm_without_number_or_status_says_nothing(body: str) -> None:
    """Which target, and whether it is tracked at all, must be known."""
    assert said(body) == ()


def test_tll() -> None:
    """By latitude and longitude; without a place nothing."""
    assert said("RATLL,07,5037.1340,N,00111.1080,W,TGT07,093015.00,T,") == (
        RadarPlace(7, near(50.6189), near(-1.185133333), "tracking", "TGT07"),
    )
    assert said("RATLL,07,,N,00111.1080,W,TGT07,093015.00,T,") == ()
    assert said("RATLL,07,5037.1340,N,00111.1080,W,TGT07,093015.00,,") == ()


def test_ttd_is_known_and_not_used() -> None:
    """Its bit layout is in no source at hand: counted, not guessed at."""
    one = heard("!RATTD,1,1,1,>0P0h0Q0P0h0Q0P0,0*14")
    assert (one.verdict, one.kind, one.observations) == ("unused", "TTD", ())


def test_txt_unescaped() -> None:
    """`^2C` is a comma."""
    assert said("GPTXT,01,01,25,DR MODE ^2C ANTENNA FAULT") == (
        ReceiverText("DR MODE , ANTENNA FAULT"),
    )
    assert said("GPTXT,01,01,25,") == ()


@pytest.mark.parametrize(
    ("letter", "command"),
    [("A", "acknowledge"), ("S", "silence"), ("O", "transfer"), ("Q", "request")],
)
def test_acn(letter: str, command: str) -> None:
    """The four commands of alert management."""
    (fact,) = said(f"INACN,093020.00,,3044,1,{letter},C")
    assert isinstance(fact, AlertCommand)
    assert (fact.identifier, fact.instance, fact.command, fact.maker) == (3044, 1, command, "")


def test_acn_for_another_makers_alert_is_told_apart() -> None:
    """A proprietary number is that maker's, not ours."""
    (fact,) = said("RAACN,220516,TCK,002,1,A,C")
    assert isinstance(fact, AlertCommand)
    assert (fact.identifier, fact.maker) == (2, "TCK")


@pytest.mark.parametrize(
    "body",
    [
        "INACN,,,,1,A,C",
        "INACN,,,3044,1,X,C",
        "INACN,,,3044,1,A,R",
        "INACN,,,3044,x,A,C",
        "INACN,,,3044,1,,C",
        "INACN,,,-1,1,A,C",
    ],
)
def test_a_command_that_is_not_whole_does_nothing(body: str) -> None:
    """An unreadable instance must not acknowledge all instances."""
    assert said(body) == ()


def test_ack() -> None:
    """The older form: a number alone."""
    (fact,) = said("INACK,240")
    assert fact == AlertCommand(240, None, "acknowledge")
    assert said("INACK,") == ()


@pytest.mark.parametrize("kind", ["ALR", "ALF", "ALC", "ARC", "HBT", "GSV", "RMB", "OSD", "QQQ"])
def test_other_types_are_not_used_and_not_bad(kind: str) -> None:
    """They show that the wire lives, whatever is in them."""
    one = heard(sentence(f"II{kind},rubbish,nan,,"))
    assert (one.verdict, one.kind, one.talker) == ("unused", kind, "II")
