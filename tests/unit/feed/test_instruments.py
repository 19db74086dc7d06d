"""Compass, sounder, log and wind sentences."""

from __future__ import annotations

from tests.unit.feed.said import near, said

from shipkeeper.words.observations import (
    Depth,
    Heading,
    Measurement,
    Variation,
    WaterSpeed,
    Wind,
)


def test_true_and_magnetic_heading() -> None:
    """HDT true, HDM magnetic, each by its letter."""
    assert said("GPHDT,274.07,T") == (Heading(274.07),)
    assert said("HCHDM,274.0,M") == (Heading(274.0, magnetic=True),)
    for body in ("GPHDT,,T", "GPHDT,274.07,", "GPHDT,361,T", "GPHDT,nan,T", "HCHDM,,M", "GPHDT,"):
        assert said(body) == ()


def test_ths_by_its_mode() -> None:
    """Autonomous and estimated are headings; manual, simulator and invalid are not."""
    assert said("HETHS,271.4,A") == (Heading(271.4),)
    assert said("HETHS,271.4,E") == (Heading(271.4),)
    for body in ("HETHS,271.4,M", "HETHS,271.4,S", "HETHS,271.4,V", "HETHS,,V", "HETHS,271.4,"):
        assert said(body) == ()


def test_hdg_applies_deviation_and_variation() -> None:
    """Sensor + deviation + variation, east positive (check-values 4.2)."""
    assert said("HCHDG,101.1,2.0,E,7.1,W") == (Heading(near(96.0)), Variation(-7.1))
    assert said("HCHDG,101.1,,,7.1,W") == (Heading(near(94.0)), Variation(-7.1))
    assert said("HCHDG,2.0,,,7.0,W") == (Heading(near(355.0)), Variation(-7.0))


def test_hdg_without_variation_is_magnetic() -> None:
    """No variation, or one without its side: the heading is not true."""
    assert said("HCHDG,101.1,2.0,E,,") == (Heading(near(103.1), magnetic=True),)
    assert said("HCHDG,101.1,,,7.1,") == (Heading(101.1, magnetic=True),)


def test_hdg_with_a_deviation_that_cannot_be_read() -> None:
    """The heading is off by nobody knows how much; the variation still holds."""
    assert said("HCHDG,101.1,2.0,,7.1,W") == (Variation(-7.1),)
    assert said("HCHDG,101.1,nan,E,7.1,W") == (Variation(-7.1),)
    assert said("HCHDG,,2.0,E,7.1,W") == (Variation(-7.1),)
    assert said("HCHDG,,,,,") == ()


def test_depth() -> None:
    """DPT with offset, DBT in metres, else feet, else fathoms; none is not zero."""
    assert said("SDDPT,5.4,0.6,100.0") == (Depth(5.4, 0.6),)
    assert said("SDDPT,5.4,-1.2") == (Depth(5.4, -1.2),)
    assert said("SDDPT,5.4,") == (Depth(5.4, None),)
    assert said("SDDBT,17.7,f,5.4,M,3.0,F") == (Depth(5.4),)
    assert said("SDDBT,17.7,f,,M,,F") == (Depth(near(5.39496)),)
    assert said("SDDBT,,f,,M,3.0,F") == (Depth(near(5.4864)),)
    for body in (
        "SDDPT,,0.6,100.0", "SDDPT,,", "SDDPT,-1,0.6", "SDDPT,nan,0.6", "SDDPT,99999,0.0",
        "SDDBT,,f,,M,,F", "SDDBT,17.7,,5.4,,3.0,", "SDDBT,inf,f,inf,M,inf,F",
    ):  # fmt: skip
        assert said(body) == (), body


def test_wind_by_its_frame_and_unit() -> None:
    """R apparent, T true against the bow; N K M S; status A only."""
    assert said("WIMWV,045.0,R,12.6,N,A") == (Wind(near(6.482), 45.0, "apparent"),)
    assert said("WIMWV,045.0,T,6.5,M,A") == (Wind(6.5, 45.0, "true"),)
    assert said("WIMWV,045.0,T,36,K,A") == (Wind(near(10.0), 45.0, "true"),)
    assert said("WIMWV,045.0,R,10,S,A") == (Wind(near(4.4704), 45.0, "apparent"),)
    assert said("WIMWV,,R,12.6,N,A") == (Wind(near(6.482), None, "apparent"),)
    for body in (
        "WIMWV,045.0,R,12.6,N,V", "WIMWV,045.0,R,12.6,N,", "WIMWV,045.0,R,,N,A",
        "WIMWV,045.0,R,12.6,,A", "WIMWV,045.0,,12.6,N,A", "WIMWV,045.0,R,nan,N,A", "WIMWV,,,,,",
    ):  # fmt: skip
        assert said(body) == (), body


def test_wind_against_north() -> None:
    """m/s first, else knots; a magnetic direction is not taken for a true one."""
    assert said("WIMWD,302.4,T,289.6,M,10.5,N,5.4,M") == (Wind(5.4, 302.4, "north"),)
    assert said("WIMWD,302.4,T,,M,10.5,N,,M") == (Wind(near(5.401666667), 302.4, "north"),)
    assert said("WIMWD,,T,289.6,M,10.5,N,5.4,M") == (Wind(5.4, None, "north"),)
    assert said("WIMWD,302.4,T,289.6,M,,N,,M") == ()


def test_speed_through_the_water() -> None:
    """Knots, else km/h; headings where given; astern is negative."""
    assert said("VWVHW,271.4,T,270.2,M,5.1,N,9.4,K") == (
        Heading(271.4),
        Heading(270.2, magnetic=True),
        WaterSpeed(near(2.623666667)),
    )
    assert said("VWVHW,,T,,M,,N,3.6,K") == (WaterSpeed(near(1.0)),)
    assert said("VWVHW,,T,,M,-1,N,,K") == (WaterSpeed(near(-0.514444444)),)
    assert said("VWVHW,,T,,M,,N,,K") == ()
    assert said("VWVHW,271.4,,270.2,,5.1,,9.4,") == ()


def test_measurements_in_fours() -> None:
    """Each with name, kind and unit letter; one without name or number is left out."""
    assert said("IIXDR,C,18.5,C,AIRTEMP,P,1.0132,B,BARO") == (
        Measurement("AIRTEMP", "C", 18.5, "C"),
        Measurement("BARO", "P", 1.0132, "B"),
    )
    assert said("IIXDR,U,12.6,V,BATT,A,,D,PITCH,A,nan,D,ROLL,U,24.1,V,") == (
        Measurement("BATT", "U", 12.6, "V"),
    )
    assert said("IIXDR,U,12.6,V,BATT,U,24.1") == (Measurement("BATT", "U", 12.6, "V"),)
    assert said("IIXDR,") == ()


def test_a_sentence_of_very_many_measurements_is_bounded() -> None:
    """A talker that invents hundreds cannot flood the picture from one line."""
    facts = said("IIXDR" + ",U,1.0,V,N" * 90)
    assert len(facts) == 32
