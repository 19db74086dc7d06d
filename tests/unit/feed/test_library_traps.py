"""What pynmea2 and pyais get wrong, each shown on the library itself and held here.

The first half of each test proves that the trap is still there in the installed library (so
a later reader sees why the fields are read as they are); the second that we do not fall in.
Where a newer library has closed its trap the test fails, and the guard may be thought over.
"""

from __future__ import annotations

import math

import pyais
import pynmea2
import pytest
from tests.unit.feed.air import by_pyais, message, vdm
from tests.unit.feed.said import heard, near, said, sentence

from shipkeeper.words.observations import (
    AisReport,
    FixQuality,
    Heading,
    Position,
    PositionInvalid,
    ReceiverText,
    UtcTime,
    Velocity,
)

RMC = "$GPRMC,093015.00,A,5036.2500,N,00112.5000,W,0.1,215.3,250726,1.2,W,A,V*42"
PAYLOAD = "15RTgt0PAso;90TKcjM8h6g208CQ"


# -- pynmea2 ----------------------------------------------------------------------------


def test_trap_an_empty_position_is_the_gulf_of_guinea() -> None:
    """pynmea2: 0.0, 0.0 without an error. Here: the receiver has no position."""
    line = sentence("GPRMC,093015.00,A,,,,,0.1,,250726,,,A")
    library = pynmea2.parse(line, check=True)
    assert (library.latitude, library.longitude) == (0.0, 0.0)
    facts = heard(line).observations
    assert not [f for f in facts if isinstance(f, Position)]
    assert [f for f in facts if isinstance(f, PositionInvalid)]


def test_trap_a_position_without_its_hemisphere_is_zero() -> None:
    """pynmea2: latitude 0.0. Here: no position."""
    line = sentence("GPGLL,5036.2500,,00112.5000,W,093015.00,A,A")
    assert pynmea2.parse(line).latitude == 0.0
    assert not [f for f in heard(line).observations if isinstance(f, Position)]


@pytest.mark.parametrize("lat", ["9500.000", "5075.000"])
def test_trap_95_degrees_and_75_minutes_pass(lat: str) -> None:
    """pynmea2 returns the number. Here: no position."""
    line = sentence(f"GPGLL,{lat},N,00112.5000,W,093015.00,A,A")
    assert isinstance(pynmea2.parse(line).latitude, float)
    assert not [f for f in heard(line).observations if isinstance(f, Position)]


@pytest.mark.parametrize("text", ["nan", "inf"])
def test_trap_nan_and_inf_are_numbers(text: str) -> None:
    """pynmea2 returns them. Here: no velocity."""
    line = sentence(f"GPRMC,093015.00,A,5036.2500,N,00112.5000,W,{text},215.3,250726,,,A")
    assert not math.isfinite(pynmea2.parse(line).spd_over_grnd)
    assert not [f for f in heard(line).observations if isinstance(f, Velocity)]


def test_trap_no_checksum_check_unless_asked() -> None:
    """pynmea2 takes a line without one. Here: bad."""
    line = RMC[:-3]
    assert pynmea2.parse(line).status == "A"
    assert (heard(line).verdict, heard(line).observations) == ("bad", ())


def test_trap_what_cannot_be_read_stays_text() -> None:
    """pynmea2 leaves a str where a number or time should be. Here: absent."""
    line = sentence("GPRMC,093099.00,A,5036.2500,N,00112.5000,W,1.x0,215.3,320726,,,A")
    library = pynmea2.parse(line)
    assert isinstance(library.spd_over_grnd, str)
    assert isinstance(library.timestamp, str)
    assert isinstance(library.datestamp, str)
    facts = heard(line).observations
    assert not [f for f in facts if isinstance(f, Velocity | UtcTime)]


def test_trap_a_leap_second_is_left_as_text() -> None:
    """pynmea2 cannot say 23:59:60. Here it is the second before midnight's next."""
    line = sentence("GPZDA,235960.00,31,12,2026,00,00")
    assert isinstance(pynmea2.parse(line).timestamp, str)
    assert heard(line).observations == (UtcTime(86400.0, (2026, 12, 31)),)


def test_trap_garbled_digits_raise_only_when_read() -> None:
    """pynmea2 parses, and raises on `.latitude`. Here: no position, nothing raises."""
    line = sentence("GPGLL,50x6.2500,N,00112.5000,W,093015.00,A,A")
    library = pynmea2.parse(line)
    with pytest.raises(ValueError, match="Geographic"):
        _ = library.latitude
    assert not [f for f in heard(line).observations if isinstance(f, Position)]


@pytest.mark.parametrize(
    "body", ["HETHS,271.4,A", "IIALR,,240,V,A,", "INACK,240", "IIALF,1,1,0,,B,W,V,,3044,1,1,0,X",
             "IIALC,01,01,00,0", "INACN,093020.00,,3044,1,A,C", "IIARC,,,3044,1,A",
             "IIHBT,30.0,A,1"],
)  # fmt: skip
def test_trap_unknown_types(body: str) -> None:
    """pynmea2 does not know them. Here: read, or unused; never bad."""
    line = sentence(body)
    with pytest.raises(pynmea2.ParseError):
        pynmea2.parse(line)
    assert heard(line).verdict in ("good", "unused")


def test_trap_encapsulated_sentences_and_tag_blocks() -> None:
    """pynmea2 refuses `!` and a TAG block in front. Here: both read."""
    line = vdm(PAYLOAD)
    tagged = "\\s:GP0001,n:123*17\\" + RMC
    for text in (line, tagged):
        with pytest.raises(pynmea2.ParseError):
            pynmea2.parse(text)
        assert heard(text).verdict == "good"


def test_trap_old_vtg_shifts_its_fields() -> None:
    """pynmea2 reads a speed as a unit letter. Here: nothing is said."""
    line = sentence("GPVTG,360.0,348.7,000.0,000.0")
    assert pynmea2.parse(line).true_track_sym == "348.7"
    assert heard(line).observations == ()


def test_trap_hdg_is_the_sensor_alone() -> None:
    """pynmea2 gives the raw heading. Here deviation and variation are applied."""
    line = "$HCHDG,101.1,2.0,E,7.1,W*55"
    assert float(pynmea2.parse(line).heading) == 101.1
    assert heard(line).observations[0] == Heading(near(96.0))


def test_trap_escapes_in_texts() -> None:
    """pynmea2 leaves `^2C`. Here it is a comma."""
    body = "GPTXT,01,01,25,DR MODE ^2C ANTENNA FAULT"
    assert "^2C" in pynmea2.parse(sentence(body)).text
    assert said(body) == (ReceiverText("DR MODE , ANTENNA FAULT"),)


def test_trap_hdop_and_satellites_are_text() -> None:
    """pynmea2 mixes float, Decimal and str. Here: float, int, or None."""
    line = "$GPGGA,093015.00,5036.2500,N,00112.5000,W,2,09,0.9,3.4,M,47.1,M,5.0,0120*5E"
    assert isinstance(pynmea2.parse(line).horizontal_dil, str)
    (quality,) = [f for f in heard(line).observations if isinstance(f, FixQuality)]
    assert (type(quality.hdop), type(quality.satellites)) == (float, int)


# -- pyais ------------------------------------------------------------------------------


def test_trap_a_wrong_checksum_decodes() -> None:
    """pyais decodes it silently. Here: bad."""
    line = vdm(PAYLOAD)[:-2] + "00"
    assert by_pyais(line).mmsi == 371798000
    assert (heard(line).verdict, heard(line).why) == ("bad", "wrong checksum")


def test_trap_a_payload_cut_short_decodes_to_wrong_numbers() -> None:
    """pyais: longitude -3.9 instead of -123.4. Here: bad."""
    line = vdm(PAYLOAD[:14])
    assert by_pyais(line).lon == pytest.approx(-3.856, abs=0.01)
    assert (heard(line).verdict, heard(line).observations) == ("bad", ())


def test_trap_characters_outside_the_alphabet_shift_the_place() -> None:
    """pyais decodes them as something. Here: bad."""
    line = vdm(PAYLOAD[:10] + "~" + PAYLOAD[11:])
    assert by_pyais(line).mmsi == 371798000
    assert (heard(line).verdict, heard(line).observations) == ("bad", ())


def test_trap_type_0_decodes_as_type_1() -> None:
    """pyais: a ship. Here: no such type."""
    line = vdm("0" + PAYLOAD[1:])
    assert by_pyais(line).mmsi == 371798000
    assert (heard(line).verdict, heard(line).why) == ("bad", "no such AIS message type")


def test_trap_not_available_is_a_number() -> None:
    """pyais: 91, 181, 102.3, 360, 511. Here: None."""
    line = "!AIVDO,1,1,,A,139Lg0?P?w<tSF0l4Q@>4?wqP000,0*54"
    library = by_pyais(line)
    assert (library.lat, library.lon, library.speed, library.course, library.heading) == (
        91.0, 181.0, 102.3, 360.0, 511,
    )  # fmt: skip
    (one,) = heard(line).observations
    assert isinstance(one, AisReport)
    assert (one.lat, one.lon, one.speed_ms, one.course_deg, one.heading_deg) == (None,) * 5
    assert (one.turn_deg_min, one.second) == (None, None)


@pytest.mark.parametrize("turn", [127, -127])
def test_trap_turning_without_indicator_reads_as_127_degrees_a_minute(turn: int) -> None:
    """pyais: a float of 127. Here: None."""
    (line,) = message(type=1, mmsi=299001234, lat=57.0, lon=-5.0, turn=turn)
    assert abs(float(by_pyais(line).turn)) == 127.0
    (one,) = heard(line).observations
    assert isinstance(one, AisReport)
    assert one.turn_deg_min is None


def test_trap_leading_zeros_of_an_mmsi_are_lost() -> None:
    """pyais: 3669702 for base station 003669702. Here the kind is told by the whole form."""
    line = "!AIVDM,1,1,,A,403OviQuMGCqWrRO9>E6fE700@GO,0*4D"
    assert by_pyais(line).mmsi == 3669702
    (one,) = heard(line).observations
    assert isinstance(one, AisReport)
    assert (one.station, f"{one.mmsi:09d}") == ("base", "003669702")


def test_trap_out_of_range_places_are_not_checked() -> None:
    """pyais gives latitude 109. Here: None, and longitude with it."""
    (line,) = message(type=1, mmsi=299001234, lat=109.3, lon=-5.0)
    assert by_pyais(line).lat == pytest.approx(109.3)
    (one,) = heard(line).observations
    assert isinstance(one, AisReport)
    assert (one.lat, one.lon) == (None, None)


def test_trap_an_empty_payload_raises() -> None:
    """pyais raises. Here: bad."""
    line = vdm("")
    with pytest.raises(pyais.exceptions.AISBaseException):
        by_pyais(line)
    assert (heard(line).verdict, heard(line).why) == ("bad", "empty payload")


def test_trap_one_part_of_two_raises() -> None:
    """pyais raises. Here: partial, and the other part is waited for."""
    line = vdm(PAYLOAD, 0, 2, 1, "3")
    with pytest.raises(pyais.exceptions.AISBaseException):
        by_pyais(line)
    assert heard(line).verdict == "partial"
