"""Fields read strictly: what is no plain number in range is None."""

from __future__ import annotations

import pytest

from shipkeeper.feed import fields

NO_NUMBERS = [
    "", " ", "nan", "NaN", "inf", "-inf", "Infinity", "1e1", "1_0", " 1", "1 ", "0x10", "--1",
    "+", "-", ".", "+.", "1.2.3", "1,2", "abc", "1a", "?", "¹", "٣", "9" * 400,
]  # fmt: skip


@pytest.mark.parametrize("text", NO_NUMBERS)
def test_what_is_no_number_is_none(text: str) -> None:
    """Neither zero nor anything else."""
    if text.isascii():  # the door refuses all else
        assert fields.number(text, -1e6, 1e6) is None
        assert fields.whole(text, 0, 10**9) is None
        assert fields.degrees(text) is None
        assert fields.latitude(text, "N") is None
        assert fields.longitude(text, "E") is None
        assert fields.second_of_day(text) is None
        assert fields.ddmmyy(text) is None


@pytest.mark.parametrize(
    ("text", "value"), [("0", 0.0), ("-0.5", -0.5), ("+3", 3.0), ("007.50", 7.5), (".5", 0.5),
                        ("5.", 5.0)],
)  # fmt: skip
def test_plain_decimals(text: str, value: float) -> None:
    """Signs, leading zeros and a bare point are plain enough."""
    assert fields.number(text, -10.0, 10.0) == value


def test_range() -> None:
    """Outside is None, the limits are inside."""
    assert fields.number("10.1", 0.0, 10.0) is None
    assert fields.number("-0.1", 0.0, 10.0) is None
    assert fields.number("10", 0.0, 10.0) == 10.0


def test_directions() -> None:
    """360 is north; beyond is None."""
    assert fields.degrees("360") == 0.0
    assert fields.degrees("359.9") == 359.9
    assert fields.degrees("360.1") is None
    assert fields.degrees("-1") is None


@pytest.mark.parametrize(
    ("text", "side", "value"),
    [
        ("5036.2500", "N", 50.604166667),
        ("5036.2500", "S", -50.604166667),
        ("9000.000", "N", 90.0),
        ("9000.001", "N", None),
        ("9500.000", "N", None),  # 95 degrees
        ("5075.000", "N", None),  # 75 minutes
        ("5060.000", "N", None),
        ("5036.2500", "", None),
        ("5036.2500", "E", None),
        ("5036.2500", "n", None),
        ("-5036.25", "N", None),
        ("50x6.25", "N", None),
        ("0000.0000", "N", 0.0),
    ],
)
def test_latitude(text: str, side: str, value: float | None) -> None:
    """ddmm.mmm with its side; all else None."""
    got = fields.latitude(text, side)
    assert got == (None if value is None else pytest.approx(value, abs=1e-9))


@pytest.mark.parametrize(
    ("text", "side", "value"),
    [
        ("00112.5000", "W", -1.208333333),
        ("18000.000", "E", 180.0),
        ("18000.001", "E", None),
        ("19000.000", "E", None),  # 190 degrees
        ("00060.000", "E", None),
        ("00112.5000", "N", None),
        ("99999999999999999999", "E", None),
    ],
)
def test_longitude(text: str, side: str, value: float | None) -> None:
    """dddmm.mmm with its side; all else None."""
    got = fields.longitude(text, side)
    assert got == (None if value is None else pytest.approx(value, abs=1e-9))


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("000000", 0.0),
        ("093015.00", 34215.0),
        ("160012.71", 57612.71),
        ("235959.999", 86399.999),
        ("235960.00", 86400.0),  # leap second
        ("235961", None),
        ("240000", None),
        ("126000", None),
        ("12", None),
        ("0930159", None),
        ("093015.x0", None),
        ("09 015", None),
        ("093015.", 34215.0),
    ],
)
def test_time_of_day(text: str, value: float | None) -> None:
    """hhmmss with or without a fraction."""
    assert fields.second_of_day(text) == (None if value is None else pytest.approx(value))


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("250726", (2026, 7, 25)),
        ("151294", (1994, 12, 15)),
        ("060180", (1980, 1, 6)),
        ("311279", (2079, 12, 31)),
        ("290224", (2024, 2, 29)),
        ("290223", None),
        ("320726", None),
        ("000726", None),
        ("251326", None),
        ("2507", None),
        ("25072026", None),
    ],
)
def test_date(text: str, value: tuple[int, int, int] | None) -> None:
    """A day that is in the calendar; two digits of year from 1980 on."""
    assert fields.ddmmyy(text) == value


def test_units_are_honoured() -> None:
    """Knots, km/h, m/s, miles per hour; an unknown letter is no unit."""
    assert fields.speed_ms("36", "K") == pytest.approx(10.0)
    assert fields.speed_ms("10", "M") == 10.0
    assert fields.speed_ms("10", "N") == pytest.approx(5.1444444)
    assert fields.speed_ms("10", "S") == pytest.approx(4.4704)
    assert fields.speed_ms("10", "") is None
    assert fields.speed_ms("10", "X") is None
    assert fields.range_units("S") == (1609.344, 0.44704)
    assert fields.range_units("") is None


def test_escapes() -> None:
    """`^hh` is a reserved character; what cannot be printed is shown as '?'."""
    assert fields.unescape("DR MODE ^2C ANTENNA") == "DR MODE , ANTENNA"
    assert fields.unescape("a^07b") == "a?b"
    assert fields.unescape("50^") == "50^"
