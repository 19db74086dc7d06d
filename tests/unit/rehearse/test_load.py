"""Alarm-load figures equal a count by hand on a night short enough to count."""

from __future__ import annotations

from typing import Any

import pytest

from shipkeeper.rehearse.load import load_figures, most_within
from shipkeeper.words.alert import OWN_SHIP, AlertRecord, Transition
from shipkeeper.words.effects import Record


def record(at_s: float, alert: str, from_: str, to: str, priority: str = "alarm") -> Record:
    """One transition of a made-up alert."""
    line: dict[str, Any] = {
        "at": "", "kind": "zone", "subject": "x", "mmsi": None, "occurrence": 1, "value": None,
        "limit": None, "unit": "", "lat": None, "lon": None, "text": "", "reason": "condition",
    }  # fmt: skip
    return Record(
        at_s=at_s,
        transition=Transition(
            alert=alert, rule=alert.split(":")[0], priority=priority, from_=from_, to=to, **line
        ),
        alert=AlertRecord(id=alert, number=1, kind="zone", rule="", subject=OWN_SHIP),
    )


UNACK, RECT, ACK = "active-unacknowledged", "rectified-unacknowledged", "active-acknowledged"


def test_a_hand_counted_hour() -> None:
    """Three raises of one alert in a minute chatter; one clears in 8 s and stays away: fleeting;
    one is acknowledged; one caution is counted apart. Counted by hand for this test."""
    night = [
        record(100, "a", "normal", UNACK),
        record(110, "a", UNACK, RECT),
        record(120, "a", RECT, UNACK),
        record(130, "a", UNACK, RECT),
        record(150, "a", RECT, UNACK),
        record(170, "a", UNACK, RECT),
        record(1000, "b:1", "normal", UNACK, "warning"),
        record(1008, "b:1", UNACK, RECT, "warning"),
        record(2000, "c", "normal", UNACK),
        record(2010, "c", UNACK, ACK),
        record(3000, "d", "normal", "active", "caution"),
        record(3300, "e", "normal", "unknown"),
        record(3400, "e", "unknown", "normal"),
    ]
    figures = load_figures(night, 0.0, 3600.0)
    assert figures["announcements"] == 5
    assert figures["cautions"] == 1
    assert figures["per_hour"] == 5.0
    assert figures["per_day"] == 120.0
    assert figures["most_in_10_min"] == 3
    assert figures["chattering"] == ["a"]
    assert figures["fleeting"] == 1
    assert figures["standing_at_end"] == ["c", "d"]
    assert figures["stale"] == []
    assert figures["wake_ups_that_cleared_by_themselves"] == 4
    assert figures["by_rule"] == {"a": 3, "b": 1, "c": 1}
    assert figures["by_priority"] == {"alarm": 4, "warning": 1, "caution": 1}
    assert figures["unknown_s"] == {"e": 100.0}


def test_a_flood_starts_above_ten_and_ends_below_five() -> None:
    """Twelve raises ten seconds apart: the eleventh, at 100 s, starts the flood; below five in
    ten minutes from 670 s on, when the eighth (70 s) has left the window."""
    night = [record(10.0 * n, f"z:{n}", "normal", UNACK) for n in range(12)]
    figures = load_figures(night, 0.0, 86_400.0)
    assert figures["share_of_time_in_flood"] == pytest.approx((670 - 100) / 86_400, abs=1e-5)
    assert figures["most_in_10_min"] == 12


def test_a_window_is_half_open() -> None:
    """Two raises exactly ten minutes apart are not within ten minutes."""
    assert most_within([0.0, 600.0], 600.0) == 1
    assert most_within([0.0, 599.9], 600.0) == 2
