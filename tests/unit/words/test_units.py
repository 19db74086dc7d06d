"""Quantities: a number and a unit, or a refusal that says what was expected."""

from __future__ import annotations

import pytest

from shipkeeper.words.units import UNITS, UnitError, example, parse_quantity


@pytest.mark.parametrize(
    ("text", "dimension", "si"),
    [
        ("0.25 NM", "length", 463.0),
        ("45 m", "length", 45.0),
        ("2 fathoms", "length", 3.6576),
        ("10 kn", "speed", 18520 / 3600),
        ("2 min", "time", 120.0),
        (".5 h", "time", 1800.0),
        ("12.1V", "voltage", 12.1),
        ("-3 ft", "length", -0.9144),
    ],
)
def test_a_number_and_a_unit_become_si(text: str, dimension: str, si: float) -> None:
    """Each unit of the trade has its exact factor (1 NM = 1852 m, 1 ft = 0.3048 m)."""
    assert parse_quantity(text, dimension) == pytest.approx(si)


@pytest.mark.parametrize("text", [45, 45.0, True, None, "45", "m", "4 5 m", "nan m", "inf m", ""])
def test_what_has_no_unit_or_is_no_number_is_refused(text: object) -> None:
    """A bare number is refused with an example of what was expected."""
    with pytest.raises(UnitError, match="for example"):
        parse_quantity(text, "length")


def test_a_unit_of_another_kind_is_refused_by_name() -> None:
    """'45 kn' is no length, and the refusal lists the lengths."""
    with pytest.raises(UnitError, match='unit "kn"; expected one of m,'):
        parse_quantity("45 kn", "length")


@pytest.mark.parametrize("dimension", sorted(UNITS))
def test_every_example_is_read_back(dimension: str) -> None:
    """What a refusal tells the person to write is accepted."""
    parse_quantity(example(dimension), dimension)
