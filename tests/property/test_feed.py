"""No absent, empty, invalid or out-of-range field of any sentence ever becomes a number.

Three properties, over every sentence type that is read and every AIS type:
1. a field that cannot be right is worth exactly as much as an empty one;
2. whatever the fields say, every number in a fact is finite and within its physical range;
3. a sentence of empty fields says no number at all.
"""

from __future__ import annotations

import math

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.unit.feed.air import armoured, vdm
from tests.unit.feed.said import heard, said

from shipkeeper.feed.ais import TYPES
from shipkeeper.feed.nmea0183 import READERS
from shipkeeper.words.observations import FixQuality, Observation, PositionInvalid

# One whole, sound sentence of every type; and the fields that are free text (their bad
# values are as good as any).
WHOLE: dict[str, tuple[str, frozenset[int]]] = {
    "RMC": ("093015.00,A,5036.2500,N,00112.5000,W,0.1,215.3,250726,1.2,W,A", frozenset()),
    "GGA": ("093015.00,5036.2500,N,00112.5000,W,2,09,0.9,3.4,M,47.1,M,5.0,0120", frozenset()),
    "GLL": ("5036.2500,N,00112.5000,W,093015.00,A,A", frozenset()),
    "GNS": ("093015.00,5036.2500,N,00112.5000,W,AAN,14,0.7,3.4,47.1,,,V", frozenset({6})),
    "GSA": ("A,3,05,07,13,14,15,20,28,30,,,,,1.6,0.9,1.3,1", frozenset()),
    "GST": ("093015.00,1.2,2.1,1.4,035.0,1.9,1.6,3.0", frozenset()),
    "VTG": ("215.3,T,216.5,M,5.1,N,9.4,K,A", frozenset()),
    "ZDA": ("093015.00,25,07,2026,00,00", frozenset()),
    "HDT": ("274.07,T", frozenset()),
    "HDM": ("274.07,M", frozenset()),
    "HDG": ("101.1,2.0,E,7.1,W", frozenset({2, 3})),  # a bad deviation spoils, none does not
    "THS": ("271.4,A", frozenset()),
    "DPT": ("5.4,0.6,100.0", frozenset()),
    "DBT": ("17.7,f,5.4,M,3.0,F", frozenset()),
    "MWV": ("045.0,R,12.6,N,A", frozenset()),
    "MWD": ("302.4,T,289.6,M,10.5,N,5.4,M", frozenset()),
    "VHW": ("271.4,T,270.2,M,5.1,N,9.4,K", frozenset()),
    "XDR": ("C,18.5,C,AIRTEMP,P,1.0132,B,BARO", frozenset({1, 3, 4, 5, 7, 8})),
    "TTM": ("07,1.25,045.0,T,12.3,215.0,T,0.20,5.5,N,TGT07,T,,093015.00,A", frozenset({11})),
    "TLL": ("07,5037.1340,N,00111.1080,W,TGT07,093015.00,T,", frozenset({6})),
    "TXT": ("01,01,02,ANTSTATUS=OK", frozenset({4})),
    "ACN": ("093020.00,,3044,1,A,C", frozenset({2, 4})),  # a bad instance spoils
    "ACK": ("240", frozenset()),
}

NEVER = [
    "nan", "NaN", "inf", "-inf", "Infinity", "1e3", "1E3", "0x1F", "1_0", " 5", "5 ", "--5", "+",
    "-", ".", "+.", "5..5", "5-5", "999999999", "-999999999", "9" * 60, "?", "~~", "X7", "None",
    "(5)", "5;5", "/", "%",
]  # fmt: skip

# attribute -> (lowest, highest) that can be true of anything at sea
RANGES = {
    "lat": (-90.0, 90.0),
    "lon": (-180.0, 180.0),
    "speed_ms": (-50.0, 1023 * 1852 / 3600),
    "course_deg": (0.0, 359.9999999),
    "heading_deg": (0.0, 359.9999999),
    "bearing_deg": (0.0, 359.9999999),
    "angle_deg": (0.0, 359.9999999),
    "turn_deg_min": (-709.0, 709.0),
    "variation_deg": (-180.0, 180.0),
    "hdop": (0.01, 100.0),
    "sigma_m": (0.0, 2e5),
    "satellites": (0, 99),
    "second_of_day": (0.0, 86400.9999999),
    "below_transducer_m": (0.0, 12_000.0),
    "offset_m": (-100.0, 100.0),
    "value": (-1e8, 1e8),
    "range_m": (0.0, 500 * 1852.0),
    "number": (0, 1023),
    "mmsi": (1, 999_999_999),
    "mothership": (1, 999_999_999),
    "nav_status": (0, 15),
    "second": (0, 59),
    "ship_type": (1, 255),
    "aid_type": (0, 31),
    "to_bow_m": (0.0, 511.0),
    "to_stern_m": (0.0, 511.0),
    "to_port_m": (0.0, 63.0),
    "to_starboard_m": (0.0, 63.0),
    "identifier": (0, 9_999_999),
    "instance": (0, 999_999),
}


def assert_sane(facts: tuple[Observation, ...]) -> None:
    """Every number finite, in range, and of an attribute that is known here."""
    for fact in facts:
        for name, value in msgspec.structs.asdict(fact).items():
            if isinstance(value, bool) or not isinstance(value, int | float):
                continue
            low, high = RANGES[name]
            assert math.isfinite(value), (name, fact)
            assert low <= value <= high, (name, fact)


def test_every_type_is_here() -> None:
    """Who adds a sentence adds it to these properties."""
    assert set(WHOLE) == set(READERS)


@pytest.mark.parametrize("kind", WHOLE)
@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_a_field_that_cannot_be_right_is_worth_an_empty_one(kind: str, data: st.DataObject) -> None:
    """Any fields of a sound sentence made impossible: the same facts as with them empty."""
    body, free = WHOLE[kind]
    fields = body.split(",")
    places = [i for i in range(len(fields)) if i + 1 not in free]
    spoiled = data.draw(st.sets(st.sampled_from(places), min_size=1, max_size=4))
    bad, empty = list(fields), list(fields)
    for place in spoiled:
        bad[place] = data.draw(st.sampled_from(NEVER))
        empty[place] = ""
    assert said(f"II{kind},{','.join(bad)}") == said(f"II{kind},{','.join(empty)}")


@pytest.mark.parametrize("kind", WHOLE)
def test_a_sentence_of_empty_fields_says_no_number(kind: str) -> None:
    """Nor a place, nor a heading, nor a depth: only that there is no fix."""
    for commas in range(len(WHOLE[kind][0].split(",")) + 3):
        for fact in said(f"II{kind}" + "," * commas):
            assert isinstance(fact, PositionInvalid | FixQuality), fact
            numbers = [
                value
                for value in msgspec.structs.asdict(fact).values()
                if isinstance(value, int | float)
            ]
            assert numbers == [], fact


def test_emptied_fields_leave_no_zero_behind() -> None:
    """Each field of each sentence emptied in turn: no number appears that was not there."""
    for kind, (body, _) in WHOLE.items():
        fields = body.split(",")
        there = _numbers(said(f"II{kind},{body}"))
        if kind == "HDG":  # without variation the heading is magnetic: another true number
            there |= _numbers(said("IIHDG,101.1,2.0,E,,")) | _numbers(said("IIHDG,101.1,,,7.1,W"))
        for place in range(len(fields)):
            less = [*fields[:place], "", *fields[place + 1 :]]
            for number in _numbers(said(f"II{kind},{','.join(less)}")):
                # A sentence says one speed in two units, rounded: near is the same.
                assert any(abs(number - other) <= 0.03 * abs(other) for other in there), (
                    kind,
                    place,
                    number,
                )


def _numbers(facts: tuple[Observation, ...]) -> set[float]:
    return {
        float(value)
        for fact in facts
        for value in msgspec.structs.asdict(fact).values()
        if isinstance(value, int | float) and not isinstance(value, bool)
    }


FIELD = st.one_of(
    st.just(""),
    st.sampled_from(NEVER),
    st.sampled_from(list("AVNSEWTRMKFfDPLQCUEX0123456789")),
    st.decimals(-1e6, 1e6, places=3).map(str),
    st.integers(0, 240000).map(str),
)


@pytest.mark.parametrize("kind", WHOLE)
@given(st.lists(FIELD, max_size=20))
@settings(max_examples=60, deadline=None)
def test_every_number_is_one_that_can_be(kind: str, fields: list[str]) -> None:
    """Any fields in any order."""
    assert_sane(said(f"II{kind},{','.join(fields)}"))


@pytest.mark.parametrize("kind", WHOLE)
@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_a_sound_sentence_with_some_fields_changed(kind: str, data: st.DataObject) -> None:
    """Numbers out of range in the right places, and letters of other meaning."""
    fields = WHOLE[kind][0].split(",")
    for place in data.draw(st.sets(st.integers(0, len(fields) - 1), max_size=3)):
        fields[place] = data.draw(FIELD)
    assert_sane(said(f"II{kind},{','.join(fields)}"))


@pytest.mark.parametrize("kind", sorted(TYPES))
@given(data=st.data())
@settings(max_examples=60, deadline=None)
def test_any_bits_of_any_ais_type(kind: int, data: st.DataObject) -> None:
    """Random payloads, whole and cut: numbers in range, or none, or the message refused."""
    _, full, fewest, most = TYPES[kind]
    length = data.draw(st.sampled_from([full, fewest, most, min(full, most)]))
    bits = f"{kind:06b}" + "".join(
        f"{byte:08b}" for byte in data.draw(st.binary(min_size=130, max_size=130))
    )
    payload, fill = armoured(bits[:length])
    for cut in (0, data.draw(st.integers(1, len(payload)))):
        one = heard(vdm(payload[: len(payload) - cut], fill))
        assert_sane(one.observations)
        if one.verdict == "bad":
            assert one.observations == ()


SENTINELS = st.sampled_from(["0", "1", "-"])


@pytest.mark.parametrize("kind", [1, 4, 9, 18, 19, 27])
@given(data=st.data())
@settings(max_examples=100, deadline=None)
def test_ais_bits_all_ones_and_all_zeros_in_runs(kind: int, data: st.DataObject) -> None:
    """Sentinels lie at the ends of fields: runs of ones and zeros find them."""
    full = TYPES[kind][1]
    runs = data.draw(st.lists(st.tuples(SENTINELS, st.integers(1, 40)), min_size=8))
    bits = f"{kind:06b}00{299001234:030b}" + "".join(
        (digit if digit != "-" else "10") * n for digit, n in runs
    )
    assert_sane(heard(vdm(*armoured(bits[:full].ljust(full, "1")))).observations)
