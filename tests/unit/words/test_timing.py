"""Labels of time: RFC 3339 to the millisecond, and durations in short words."""

from __future__ import annotations

import pytest

from shipkeeper.words.timing import clock_text, duration_text, utc_text


def test_utc_text_is_rfc_3339_to_the_millisecond() -> None:
    """Rounded, never cut, and right at the turn of a second."""
    assert utc_text(1781230425.0) == "2026-06-12T02:13:45.000Z"
    assert utc_text(1781230425.9996) == "2026-06-12T02:13:46.000Z"
    assert utc_text(0.0) == "1970-01-01T00:00:00.000Z"
    assert clock_text(1781230425.0) == "02:13"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [(0, "0 s"), (45, "45 s"), (130, "2 min"), (5400, "90 min"), (9000, "2 h 30 min"),
     (7200, "2 h"), (3 * 86_400, "3 days")],
)  # fmt: skip
def test_durations_are_short(seconds: float, text: str) -> None:
    """A person half asleep reads one or two numbers."""
    assert duration_text(seconds) == text
