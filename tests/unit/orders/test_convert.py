"""Values: what each annotation takes, and what it says of what it does not take."""

from __future__ import annotations

import math
from datetime import date
from typing import Annotated, Any, Literal

import pytest

from shipkeeper.orders.convert import FAULTY, Fault, convert
from shipkeeper.words.orders import Number, Place, PriorityLabel, Quantity, Seconds

Length = Annotated[float, Quantity("length", 1.0, 1000.0)]
Share = Annotated[float, Quantity("share", 0.0, 1.0)]
Line = Annotated[int, Number(0, 511)]
Bearing = Annotated[float, Number(-360.0, 360.0)]


def told(kind: Any, raw: Any) -> str:
    """The one fault that a value has, as text."""
    faults: list[Fault] = []
    assert convert(kind, raw, ("key",), faults) is FAULTY
    assert len(faults) == 1, faults
    return f"{faults[0].expected}; found {faults[0].found}"


@pytest.mark.parametrize(
    ("kind", "raw", "value"),
    [
        (Length, "0.25 NM", 463.0),
        (Length, "11.4m", 11.4),
        (Share, "80 %", 0.8),
        (Line, 17, 17),
        (Bearing, 330, 330.0),
        (Bearing, -12.5, -12.5),
        (bool, True, True),
        (str, "", ""),
        (Place, [57.1, -5], (57.1, -5.0)),
        (tuple[Place, ...], [[1, 2], [3, 4]], ((1.0, 2.0), (3.0, 4.0))),
        (frozenset[Literal["a", "b"]], ["a"], frozenset({"a"})),
        (list[int], [1, 2], [1, 2]),
        (Literal["ship", "anchor"] | Place, "anchor", "anchor"),
        (Literal["ship", "anchor"] | Place, [1, 2], (1.0, 2.0)),
        (PriorityLabel | Literal["none"], "none", "none"),
        (Length | None, "2 m", 2.0),
        (dict[str, bool], {"x": True}, {"x": True}),
        (date, date(2026, 8, 1), date(2026, 8, 1)),
        (Any, [1, "x"], [1, "x"]),
    ],
)
def test_good_values(kind: Any, raw: Any, value: Any) -> None:
    """Quantities become SI, lists tuples, and a choice takes the first that fits."""
    faults: list[Fault] = []
    made = convert(kind, raw, (), faults)
    assert made == pytest.approx(value) if isinstance(value, float) else made == value
    assert type(made) is type(value)
    assert faults == []


@pytest.mark.parametrize(
    ("kind", "raw", "words"),
    [
        (Length, 50, 'expected a length with its unit, such as "50 m"; found 50 without a unit'),
        (Length, "50", 'such as "50 m"; found "50" without a unit'),
        (Length, "5 s", 'expected a length in m, mm, cm, km, ft, fathom, cable or NM; found "5 s"'),
        (Length, "0,25 nm", 'Did you mean "0.25 NM"?'),
        (Length, "30 metres", 'Did you mean "30 m"?'),
        (Length, "0.5 m", 'expected 1 m to 1000 m; found "0.5 m"'),
        (Length, "1001 m", "expected 1 m to 1000 m"),
        (Length, "nan m", 'found "nan m"'),
        (Length, "inf m", 'found "inf m"'),
        (Length, "9" * 400 + " m", "expected"),
        (Length, True, "found true"),
        (Length, math.nan, "found nan"),
        (Length, ["5 m"], 'found ["5 m"]'),
        (Seconds, "5 minutes", 'Did you mean "5 min"?'),
        (Annotated[float, Quantity("angle", 0, 360)], "30°", 'Did you mean "30 deg"?'),
        (Line, "17", 'expected a whole number from 0 to 511; found "17"'),
        (Line, 17.0, "found 17.0"),
        (Line, 512, "found 512"),
        (Line, 10**400, "expected a whole number from 0 to 511"),
        (Line, True, "found true"),
        (Bearing, math.nan, "expected a number from -360 to 360; found nan"),
        (Bearing, math.inf, "found inf"),
        (Bearing, 10**400, "expected a number"),
        (float, math.nan, "expected a number; found nan"),
        (float, 10**400, "expected a number"),
        (float, True, "found true"),
        (int, 1.0, "expected a whole number; found 1.0"),
        (bool, 1, "expected true or false; found 1"),
        (bool, "true", 'found "true"'),
        (str, 5, "expected a text in quotes; found 5"),
        (Literal["chain", "mixed"], "chian", 'expected "chain" or "mixed"; found "chian". Did you'),
        (Literal["chain", "mixed"], True, "found true"),
        (PriorityLabel | Literal["none"], "alert", 'or "none"; found "alert"'),
        (Place, [1.0], "expected [latitude, longitude]; found [1.0]"),
        (Place, "57 N", "expected [latitude, longitude]"),
        (Literal["ship", "anchor"] | Place, 5, 'expected "ship" or "anchor", or [latitude, l'),
        (
            tuple[str, ...],
            "buzzer",
            'expected a list [ ... ], each a text in quotes; found "buzzer',
        ),
        (date, "2026-08-01x", "expected a date"),
    ],
)
def test_faulty_values_say_what_was_expected_and_found(kind: Any, raw: Any, words: str) -> None:
    """One fault, naming what was expected, what stands there, and what was likely meant."""
    assert words in told(kind, raw)


def test_every_faulty_item_of_a_list_is_told() -> None:
    """Three bad corners are three faults, each at its own place."""
    faults: list[Fault] = []
    convert(tuple[Place, ...], [[95, 0], [1, 2], ["x", 0], [0]], ("polygon",), faults)
    assert [fault.path for fault in faults] == [
        ("polygon", 0, 0),
        ("polygon", 2, 0),
        ("polygon", 3),
    ]


def test_a_fault_inside_a_choice_is_told_at_its_place() -> None:
    """[95, 0] is meant as a position: the latitude is wrong, not the whole value."""
    faults: list[Fault] = []
    convert(Literal["ship", "anchor"] | Place, [95, 0], ("around",), faults)
    assert [(fault.path, fault.found) for fault in faults] == [(("around", 0), "95")]
