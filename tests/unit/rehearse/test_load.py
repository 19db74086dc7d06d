"""Alarm-load figures equal a count by hand on nights short enough to count.

Definitions: ISA-18.2 / IEC 62682 and EEMUA 191 as restated in public sources (second-hand:
the standards are sold documents and were not read); those of the night are our own.
"""

from __future__ import annotations

import pytest
from tests.unit.rehearse.made import ACK, RECT, UNACK, night, told

from shipkeeper.rehearse.load import load_figures, most_within

# 2026-06-11T22:00:00Z
EVENING_S = 1_781_215_200.0
HOUR_S = 3600.0


def test_a_hand_counted_hour() -> None:
    """Three raises of one alert in a minute chatter; one clears in 8 s and stays away: fleeting;
    one is acknowledged; one caution is counted apart. Counted by hand for this test."""
    hour = night(
        0.0,
        3600.0,
        told(100, "a", "normal", UNACK),
        told(110, "a", UNACK, RECT),
        told(120, "a", RECT, UNACK),
        told(130, "a", UNACK, RECT),
        told(150, "a", RECT, UNACK),
        told(170, "a", UNACK, RECT),
        told(1000, "b:1", "normal", UNACK, "warning"),
        told(1008, "b:1", UNACK, RECT, "warning"),
        told(2000, "c", "normal", UNACK),
        told(2010, "c", UNACK, ACK, reason="acknowledge"),
        told(3000, "d", "normal", "active", "caution"),
        told(3300, "e", "normal", "unknown"),
        told(3400, "e", "unknown", "normal"),
        told(3350, "f", "normal", "unknown"),
    )
    figures = load_figures([hour])
    assert figures["announcements"] == 5
    assert figures["cautions"] == 1
    assert figures["per_hour"] == 5.0
    assert figures["per_day"] == 120.0
    assert figures["per_10_min"] == pytest.approx(5 / 6, abs=1e-4)
    assert figures["most_in_10_min"] == 3
    assert figures["chattering"] == ["a"]
    assert figures["fleeting"] == 1
    assert figures["standing_at_end"] == ["c", "d"]
    assert figures["stale"] == []
    assert figures["wake_ups"] == 5
    assert figures["wake_ups_that_cleared_by_themselves"] == 4
    assert figures["nuisance_wake_ups"] == 4
    assert figures["never_acknowledged"] == 4
    assert figures["by_rule"] == {"a": 3, "b": 1, "c": 1}
    assert figures["share_by_rule"] == {"a": 0.6, "b": 0.2, "c": 0.2}
    assert figures["by_priority"] == {"alarm": 4, "warning": 1, "caution": 1}
    assert figures["share_by_priority"]["alarm"] == pytest.approx(4 / 6, abs=1e-4)
    assert figures["unknown_s"] == {"e": 100.0, "f": 250.0}
    # e from 3300 to 3400 and f from 3350 to the end, 3600: together 300 s of 3600.
    assert figures["share_of_time_unknown"] == pytest.approx(300 / 3600, abs=1e-5)
    # Windows of ten minutes: the first holds three raises, none holds more than three.
    assert figures["share_of_10_min_over_3"] == 0.0
    assert figures["share_of_top_10"] == 1.0


def test_a_caution_that_becomes_an_alarm_wakes_then() -> None:
    """Told as a caution at 100 s, which wakes nobody; an alarm at 160 s, which does."""
    drag = night(
        0.0,
        3600.0,
        told(100, "drag", "normal", "active", "caution"),
        told(160, "drag", "active", UNACK, "alarm", reason="worse"),
        told(400, "drag", UNACK, UNACK, "alarm", reason="worse"),
    )
    figures = load_figures([drag])
    assert (figures["cautions"], figures["announcements"], figures["wake_ups"]) == (1, 1, 1)
    assert figures["nuisance_wake_ups"] == 0
    assert figures["standing_at_end"] == ["drag"]


def test_one_situation_wakes_once() -> None:
    """Five ships in one zone, one of which speaks for all: five announcements of five alerts in
    the list, one wake-up; counted by hand."""
    fleet = [
        told(60.0 + n, f"zone:{n}", "normal", UNACK, "warning", led_by=None if n == 0 else "zone:0")
        for n in range(5)
    ]
    figures = load_figures([night(0.0, 3600.0, *fleet)])
    assert (figures["announcements"], figures["wake_ups"]) == (5, 1)
    assert figures["most_alerts_in_one_incident"] == 1


def test_put_aside_and_back_is_one_raise() -> None:
    """Shelved and back while it still holds: the same occurrence, one announcement."""
    one = night(
        0.0,
        3600.0,
        told(100, "a", "normal", UNACK),
        told(200, "a", UNACK, "shelved", reason="shelve"),
        told(900, "a", "shelved", UNACK, reason="shelf-over"),
    )
    figures = load_figures([one])
    assert figures["announcements"] == 1
    assert figures["put_aside_by_a_person"] == 1


def test_a_flood_starts_above_ten_and_ends_below_five() -> None:
    """Twelve raises ten seconds apart: the eleventh, at 100 s, starts the flood; below five in
    ten minutes from 670 s on, when the eighth (70 s) has left the window."""
    flood = [told(10.0 * n, f"z:{n}", "normal", UNACK) for n in range(12)]
    figures = load_figures([night(0.0, 86_400.0, *flood)])
    assert figures["share_of_time_in_flood"] == pytest.approx((670 - 100) / 86_400, abs=1e-5)
    assert figures["most_in_10_min"] == 12
    # 144 windows of ten minutes, one of them with more than ten.
    assert figures["share_of_10_min_over_10"] == pytest.approx(1 / 144, abs=1e-5)


def test_a_day_and_a_second_is_stale() -> None:
    """Standing for over 24 hours; one hour less is not."""
    days = night(
        0.0,
        200_000.0,
        told(0.0, "old", "normal", UNACK),
        told(86_401.0, "old", UNACK, "normal"),
        told(0.0, "young", "normal", UNACK),
        told(82_800.0, "young", UNACK, "normal"),
    )
    assert load_figures([days])["stale"] == ["old"]


def test_a_window_is_half_open() -> None:
    """Two raises exactly ten minutes apart are not within ten minutes."""
    assert most_within([0.0, 600.0], 600.0) == 1
    assert most_within([0.0, 599.9], 600.0) == 2


def test_nights_are_cut_at_noon_and_the_time_between_recordings_is_nobodys() -> None:
    """Two nights, 22 to 04 UTC, with two wake-ups and one; twelve hours watched, not thirty."""
    first = night(
        EVENING_S,
        EVENING_S + 6 * HOUR_S,
        told(EVENING_S + 60, "a", "normal", UNACK),
        told(EVENING_S + 90, "a", UNACK, "normal"),
        told(EVENING_S + 5 * HOUR_S, "b", "normal", UNACK),
        told(EVENING_S + 5 * HOUR_S + 5, "b", UNACK, ACK, reason="acknowledge"),
    )
    second_s = EVENING_S + 24 * HOUR_S
    second = night(second_s, second_s + 6 * HOUR_S, told(second_s + 60, "a", "normal", UNACK))
    figures = load_figures([first, second])
    assert figures["span_s"] == 12 * HOUR_S
    assert figures["per_hour"] == 0.25
    assert [(n["night"], n["wake_ups"], n["nuisance_wake_ups"]) for n in figures["nights"]] == [
        ("2026-06-11", 2, 1),
        ("2026-06-12", 1, 0),
    ]
    assert figures["wake_ups_per_night"] == 1.5


def test_a_night_in_the_pacific_is_one_night() -> None:
    """At 175 W the sun's noon is 23:40 UTC: 22:00 UTC is the day before's afternoon, so six
    hours from then lie in two nights there, and a recording from 06 to 16 UTC in one."""
    begins = EVENING_S + 8 * HOUR_S
    figures = load_figures([night(begins, begins + 10 * HOUR_S, lon=-175.0)])
    assert [n["night"] for n in figures["nights"]] == ["2026-06-11"]
    figures = load_figures([night(EVENING_S, EVENING_S + 6 * HOUR_S, lon=-175.0)])
    assert [n["night"] for n in figures["nights"]] == ["2026-06-10", "2026-06-11"]
