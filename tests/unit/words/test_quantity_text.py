"""Quantities told: what is printed is what would be read again."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.words.units import UNITS, parse_quantity, quantity_text


@pytest.mark.parametrize(
    ("value", "dimension", "text"),
    [
        (463.0, "length", "0.25 NM"),
        (45.0, "length", "45 m"),
        (0.008, "length", "8 mm"),
        (0.0, "length", "0 m"),
        (1852.0 / 3600, "speed", "1 kn"),
        (90.0, "time", "90 s"),
        (720.0, "time", "12 min"),
        (0.05, "time", "50 ms"),
        (7200.0, "time", "2 h"),
        (14 * 86400.0, "time", "14 days"),
        (12.1, "voltage", "12.1 V"),
        (0.1, "share", "10 %"),
        (2e9, "bytes", "2 GB"),
        (1e5, "bytes", "100 kB"),
    ],
)
def test_as_a_person_would_write_it(value: float, dimension: str, text: str) -> None:
    """The largest unit that gives a round figure."""
    assert quantity_text(value, dimension) == text


@given(st.sampled_from(sorted(UNITS)), st.floats(0, 1e9))
def test_what_is_told_is_read_again(dimension: str, value: float) -> None:
    """To seven figures, in every dimension."""
    assert parse_quantity(quantity_text(value, dimension), dimension) == pytest.approx(
        value, rel=1e-6, abs=1e-9
    )
