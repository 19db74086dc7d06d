"""AIS messages: fields, 'not available', kinds of station, lengths."""

from __future__ import annotations

from typing import Any

import pytest
from tests.unit.feed.air import armoured, message, vdm
from tests.unit.feed.said import heard, near

from shipkeeper.feed.ais import station_of
from shipkeeper.feed.decode import Decoder
from shipkeeper.words.observations import AisAid, AisReport, AisStatic, AisText, Observation


def observed(own: bool = False, **fields: Any) -> tuple[Observation, ...]:
    """What a message says, its sentences heard one after the other."""
    decoder = Decoder()
    facts: tuple[Observation, ...] = ()
    for line in message(own, **fields):
        one = decoder.decode(10.0, "wire", line)
        assert one.verdict in ("good", "partial"), one
        facts = one.observations
    return facts


def report(own: bool = False, **fields: Any) -> AisReport:
    fact = observed(own, **fields)[0]
    assert isinstance(fact, AisReport)
    return fact


def static(**fields: Any) -> AisStatic:
    fact = observed(**fields)[0]
    assert isinstance(fact, AisStatic)
    return fact


UNDER_WAY: dict[str, Any] = {
    "mmsi": 299001234, "lat": 57.1, "lon": -5.2, "speed": 10.5, "course": 123.4, "heading": 125,
    "second": 17, "accuracy": 1,
}  # fmt: skip


@pytest.mark.parametrize("kind", [1, 2, 3])
def test_class_a(kind: int) -> None:
    """Place, motion, heading, status, own flag."""
    assert report(type=kind, status=0, turn=0, **UNDER_WAY) == AisReport(
        mmsi=299001234,
        station="A",
        lat=near(57.1),
        lon=near(-5.2),
        speed_ms=near(10.5 * 1852 / 3600),
        course_deg=near(123.4),
        heading_deg=125.0,
        turn_deg_min=0.0,
        nav_status=0,
        accurate=True,
        own=False,
        second=17,
    )


def test_own_reports_are_told_apart() -> None:
    """VDO is our own transponder."""
    assert report(own=True, type=1, **UNDER_WAY).own is True
    assert report(type=1, **UNDER_WAY).own is False


def test_class_b_says_whether_it_is_carrier_sense() -> None:
    """Their reporting intervals differ."""
    assert report(type=18, cs=1, **UNDER_WAY).carrier_sense is True
    assert report(type=18, cs=0, **UNDER_WAY).carrier_sense is False
    assert report(type=18, **UNDER_WAY).station == "B"


def test_class_b_extended_brings_name_and_size() -> None:
    """Two facts of one message."""
    moving, still = observed(
        type=19, shipname="CURLEW", ship_type=37, to_bow=7, to_stern=4, to_port=2,
        to_starboard=1, **UNDER_WAY,
    )  # fmt: skip
    assert isinstance(moving, AisReport)
    assert (moving.station, moving.lat) == ("B", near(57.1))
    assert still == AisStatic(299001234, "CURLEW", None, 37, 7.0, 4.0, 2.0, 1.0, "B", None, False)


def test_base_station() -> None:
    """Its place; its time is not ours."""
    facts = observed(type=4, mmsi=2990001, lat=57.0, lon=-5.0, accuracy=1, year=2026, second=5)
    assert facts == (AisReport(2990001, "base", near(57.0), near(-5.0), accurate=True, second=5),)


def test_search_and_rescue_aircraft() -> None:
    """Whole knots."""
    one = report(type=9, mmsi=111299001, lat=57.0, lon=-5.0, speed=142, course=90.0, alt=300)
    assert (one.station, one.speed_ms, one.course_deg) == ("sar", near(142 * 1852 / 3600), 90.0)


def test_long_range() -> None:
    """Tenths of a minute, whole knots and degrees."""
    one = report(type=27, mmsi=299001234, lat=57.1, lon=-5.2, speed=12, course=200, status=1)
    assert (one.station, one.nav_status, one.course_deg) == ("long-range", 1, 200.0)
    assert one.lat == pytest.approx(57.1, abs=1 / 600)
    assert one.speed_ms == near(12 * 1852 / 3600)


@pytest.mark.parametrize(
    ("fields", "attribute"),
    [
        ({"lat": 91.0}, "lat"),
        ({"lat": 91.0}, "lon"),
        ({"lon": 181.0}, "lon"),
        ({"lon": 181.0}, "lat"),
        ({"speed": 102.3}, "speed_ms"),
        ({"course": 360.0}, "course_deg"),
        ({"course": 409.5}, "course_deg"),
        ({"heading": 511}, "heading_deg"),
        ({"heading": 360}, "heading_deg"),
        ({"second": 60}, "second"),
        ({"second": 63}, "second"),
        ({"turn": -128}, "turn_deg_min"),
        ({"turn": 127}, "turn_deg_min"),
        ({"turn": -127}, "turn_deg_min"),
    ],
)
def test_not_available_is_none(fields: dict[str, Any], attribute: str) -> None:
    """Never 91 degrees, 102.3 knots or 127 degrees a minute."""
    assert getattr(report(type=1, **{**UNDER_WAY, **fields}), attribute) is None


def test_a_report_without_a_place_is_still_a_report() -> None:
    """The ship is there; where is not known."""
    one = report(type=1, **{**UNDER_WAY, "lat": 91.0, "lon": 181.0})
    assert (one.lat, one.lon, one.heading_deg) == (None, None, 125.0)


def test_highest_speed_is_a_number() -> None:
    """1022 says 102.2 knots or more."""
    assert report(type=1, **{**UNDER_WAY, "speed": 102.2}).speed_ms == near(102.2 * 1852 / 3600)


def test_rate_of_turn() -> None:
    """4.733 sqrt(deg/min), port negative (ITU-R M.1371; read in source, check-values 3.4)."""
    assert report(type=1, turn=20.0, **UNDER_WAY).turn_deg_min == near((21 / 4.733) ** 2)
    turn = report(type=1, turn=-20.0, **UNDER_WAY).turn_deg_min
    assert turn == near(-((21 / 4.733) ** 2))


@pytest.mark.parametrize(
    ("mmsi", "station"),
    [
        (299001234, "usual"),
        (970123456, "sart"),
        (972123456, "mob"),
        (974123456, "epirb"),
        (979123456, "usual"),
        (111299123, "sar"),
        (992991234, "aid"),
        (982991234, "craft"),
        (2990001, "base"),
        (899123456, "usual"),
        (29900123, "usual"),
        (12345, "usual"),
    ],
)
def test_station_by_the_form_of_its_mmsi(mmsi: int, station: str) -> None:
    """ITU-R M.585-9 (check-values 3.2)."""
    assert station_of(mmsi, "usual") == station


def test_distress_beacons_are_stations_of_their_own() -> None:
    """Whatever else they say: status 14 is kept beside."""
    for mmsi, station in ((970010001, "sart"), (972010001, "mob"), (974010001, "epirb")):
        one = report(type=1, **{**UNDER_WAY, "mmsi": mmsi}, status=14)
        assert (one.station, one.nav_status) == (station, 14)


def test_safety_text() -> None:
    """Cut at '@'."""
    assert observed(type=14, mmsi=970010001, text="SART ACTIVE") == (
        AisText(970010001, "SART ACTIVE"),
    )


def test_static_data_of_a_large_ship() -> None:
    """Two sentences, name and call sign without their padding."""
    assert static(
        type=5, mmsi=299001234, shipname="GREY HERON", callsign="ZZ1A", ship_type=70, to_bow=100,
        to_stern=20, to_port=10, to_starboard=11,
    ) == AisStatic(299001234, "GREY HERON", "ZZ1A", 70, 100.0, 20.0, 10.0, 11.0, "A")  # fmt: skip


def test_absent_static_data_is_none() -> None:
    """All '@', type 0, dimensions 0: not known."""
    assert static(type=5, mmsi=299001234) == AisStatic(299001234, station="A")


def test_size_without_antenna_place() -> None:
    """A and C zero, B and D not: length and beam only (M.1371, from memory)."""
    one = static(type=5, mmsi=299001234, to_stern=30, to_starboard=8)
    assert (one.to_bow_m, one.to_stern_m, one.to_port_m, one.to_starboard_m) == (
        None, 30.0, None, 8.0,
    )  # fmt: skip


def test_antenna_at_the_bow_is_not_unknown() -> None:
    """A alone zero is a place like any other."""
    one = static(type=5, mmsi=299001234, to_stern=30, to_port=4, to_starboard=4)
    assert (one.to_bow_m, one.to_stern_m) == (0.0, 30.0)


def test_name_in_two_parts() -> None:
    """Type 24 A is the name, B all else; neither overwrites the other with zeros."""
    assert static(type=24, mmsi=299001234, partno=0, shipname="CURLEW") == AisStatic(
        299001234, "CURLEW", station="B"
    )
    one = static(
        type=24, mmsi=299001234, partno=1, callsign="ZZ2B", ship_type=36, to_bow=8, to_stern=3,
        to_port=1, to_starboard=2,
    )  # fmt: skip
    assert one == AisStatic(299001234, None, "ZZ2B", 36, 8.0, 3.0, 1.0, 2.0, "B")


def test_a_craft_names_its_mother_ship() -> None:
    """98...: the mother's MMSI stands where others have their size."""
    one = static(
        type=24, mmsi=982991234, partno=1, ship_type=36, callsign="ZZ", mothership_mmsi=299001234
    )
    assert (one.station, one.mothership) == ("craft", 299001234)
    assert (one.to_bow_m, one.to_stern_m, one.to_port_m, one.to_starboard_m) == (None,) * 4


def test_aid() -> None:
    """Off position counts for a floating aid with a time stamp only."""
    where: dict[str, Any] = {"lat": 57.0, "lon": -5.0}
    facts = observed(
        type=21, mmsi=992991234, aid_type=30, name="WRECK OF THE GOOD SHIP", virtual_aid=1,
        off_position=1, second=20, **where,
    )  # fmt: skip
    assert isinstance(facts[0], AisReport)
    assert (facts[0].station, facts[0].lat) == ("aid", near(57.0))
    assert isinstance(facts[1], AisAid)
    assert (facts[1].virtual, facts[1].off_position, facts[1].aid_type) == (True, True, 30)
    changes: list[dict[str, Any]] = [{"second": 61}, {"aid_type": 5}]
    for changed in changes:
        fields: dict[str, Any] = {"aid_type": 30, "second": 20, **changed}
        fact = observed(type=21, mmsi=992991234, name="X", off_position=1, **fields, **where)[1]
        assert isinstance(fact, AisAid)
        assert fact.off_position is None


def test_a_long_name_of_an_aid_goes_on_in_its_extension() -> None:
    """20 characters and up to 14 more."""
    fact = observed(
        type=21, mmsi=992991234, aid_type=20, name="CHINA ROSE MURPHY EX", name_ext="PRESS ALERT",
        lat=1.0, lon=2.0,
    )[1]  # fmt: skip
    assert isinstance(fact, AisAid)
    assert fact.name == "CHINA ROSE MURPHY EXPRESS ALERT"


def test_a_name_ends_at_its_first_at_sign() -> None:
    """Behind it is padding, whatever the bits (gpsd's sample has one)."""
    bits = f"{21:06b}00{992991234:030b}{1:05b}"
    for character in "IBC G BUOY@?????????":
        code = ord(character)
        bits += f"{code - 64 if code >= 64 else code:06b}"
    bits = bits.ljust(272, "0")
    fact = heard(vdm(*armoured(bits))).observations[1]
    assert isinstance(fact, AisAid)
    assert fact.name == "IBC G BUOY"


@pytest.mark.parametrize(
    ("kind", "verdict"),
    [(0, "bad"), (6, "unused"), (8, "unused"), (11, "unused"), (28, "unused"), (29, "bad"),
     (63, "bad")],
)  # fmt: skip
def test_types(kind: int, verdict: str) -> None:
    """Type 0 and beyond 28 do not exist; others are not used."""
    payload, fill = armoured(f"{kind:06b}".ljust(168, "0"))
    assert heard(vdm(payload, fill)).verdict == verdict


@pytest.mark.parametrize("mmsi", [0, 1_000_000_000, (1 << 30) - 1])
def test_an_mmsi_has_nine_digits(mmsi: int) -> None:
    """All else is no identity."""
    payload, fill = armoured(f"{1:06b}00{mmsi:030b}".ljust(168, "0"))
    assert (heard(vdm(payload, fill)).verdict, heard(vdm(payload, fill)).why) == (
        "bad", "MMSI out of range",
    )  # fmt: skip


LENGTHS = [
    (1, 168), (2, 168), (3, 168), (4, 168), (5, 424), (9, 168), (18, 168), (19, 312), (21, 272),
    (24, 160), (27, 96),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "bits"), LENGTHS)
def test_a_payload_cut_short_is_refused(kind: int, bits: int) -> None:
    """A field cut in two would read as a wrong number: the whole message is bad."""
    whole = f"{kind:06b}00{299001234:030b}".ljust(bits, "0")
    assert heard(vdm(*armoured(whole))).verdict == "good"
    for short in (bits - 12, bits // 2, 38, 12):
        one = heard(vdm(*armoured(whole[:short])))
        assert (one.verdict, one.observations) == ("bad", ()), short


@pytest.mark.parametrize(("kind", "bits"), [(1, 180), (18, 174), (5, 432), (27, 174), (24, 200)])
def test_a_payload_too_long_is_refused(kind: int, bits: int) -> None:
    """Nobody knows which end is too much."""
    payload, fill = armoured(f"{kind:06b}00{299001234:030b}".ljust(bits, "0"))
    assert heard(vdm(payload, fill)).verdict == "bad"


@pytest.mark.parametrize("bits", [420, 422, 424, 426])
def test_static_data_without_its_last_bits_is_taken(bits: int) -> None:
    """Seen often on the air (check-values 3.4); what is used is whole."""
    payload, fill = armoured(f"{5:06b}00{299001234:030b}".ljust(bits, "0"))
    assert heard(vdm(payload, fill)).verdict == "good"
