"""UTC as a label: the computer's word, the receiver's word, and eras that cannot be."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from shipkeeper.picture.time_quality import TimeLabel, dated_s

DAY = (2026, 6, 12)
NOON = 1781265600.0 - 0.0  # 2026-06-12T12:00:00Z


def test_a_rehearsal_is_labelled_by_its_own_stamps() -> None:
    """Nothing was said against the clock, so a receiver that differs changes nothing."""
    label = TimeLabel()
    for t in range(10):
        label.receiver(43_200.0 + t, DAY, 5.0 + t)
    assert label.utc_s(7.0) == 7.0


def test_a_computer_without_a_clock_takes_the_receivers_time() -> None:
    """A board that starts in 1970 learns the time from three fixes that agree."""
    label = TimeLabel()
    label.computer(12.0, "none", 12.0)
    for t in range(3):
        label.receiver(43_200.0 + t, DAY, 20.0 + t)
    assert label.quality == "gnss"
    assert label.utc_s(22.0) == NOON + 2


def test_one_odd_reading_does_not_set_the_clock() -> None:
    """The readings must agree among themselves."""
    label = TimeLabel()
    label.computer(12.0, "none", 12.0)
    label.receiver(43_200.0, DAY, 20.0)
    label.receiver(10.0, DAY, 21.0)
    label.receiver(43_202.0, DAY, 22.0)
    assert label.quality == "none"


def test_a_date_before_the_week_rollover_is_refused() -> None:
    """A receiver in a past era (1994, 2006) is told as such and not believed."""
    label = TimeLabel()
    label.computer(12.0, "none", 12.0)
    for t in range(5):
        label.receiver(43_200.0 + t, (2006, 10, 27), 20.0 + t)
    when = dated_s(43_205.0, (2006, 10, 27))
    assert when is not None and label.astray_s(when, 25.0) == when - 25.0
    assert label.quality == "none"


@pytest.mark.parametrize(
    ("quality", "ahead_s", "told"),
    [
        ("synchronised", 3.0, 0.0),
        ("synchronised", -3600.0, -3600.0),
        ("synchronised", 86_400.0, 86_400.0),
        ("assumed", 86_400.0, 86_400.0),  # the stamps of a recording
        ("system", 86_400.0, None),  # the computer's own clock may be the wrong one
        ("system", -1024 * 7 * 86_400.0, -1024 * 7 * 86_400.0),
        ("none", 86_400.0, None),
    ],
)
def test_how_far_a_receiver_is_astray(quality: str, ahead_s: float, told: float | None) -> None:
    """Only a clock that is trusted judges; an era that cannot be is judged by all."""
    now_s = datetime(2026, 6, 12, tzinfo=UTC).timestamp()
    label = TimeLabel()
    if quality != "assumed":
        label.computer(now_s, quality, now_s)
    assert label.astray_s(now_s + ahead_s, now_s) == told


def test_a_day_that_no_calendar_has() -> None:
    assert dated_s(0.0, (2026, 2, 30)) is None
