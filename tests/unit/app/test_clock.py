"""app/clock.py: one monotonic clock that nobody can set."""

from __future__ import annotations

import time

import pytest

from shipkeeper.app.clock import Clock, FeedClock, utc_news


def test_engine_time_starts_as_unix_time() -> None:
    """At start the numbers are those of UNIX time, to the millisecond."""
    now_s = Clock().now_s()
    assert abs(now_s - time.time()) < 1.0
    assert round(now_s, 3) == now_s


def test_it_never_goes_back() -> None:
    """Many readings in a row never fall."""
    clock = Clock(rate=1000.0)
    readings = [clock.now_s() for _ in range(5000)]
    assert readings == sorted(readings)


def test_it_starts_where_told_and_runs_faster() -> None:
    """--starts and --time-lapse: 100 times as fast from the given date."""
    clock = Clock(rate=100.0, starts_s=1_781_215_200.0)
    time.sleep(0.1)
    passed = clock.now_s() - 1_781_215_200.0
    assert 10.0 <= passed < 40.0


def test_waiting_is_in_real_seconds() -> None:
    """60 engine seconds at a rate of 60 are one real second; the past is no wait."""
    clock = Clock(rate=60.0, starts_s=1000.0)
    assert clock.wait_s(clock.now_s() + 60.0) == pytest.approx(1.0, abs=0.05)
    assert clock.wait_s(0.0) == 0.0


def test_a_rate_of_zero_is_refused() -> None:
    """A clock that stands still would silence every timer."""
    with pytest.raises(ValueError, match="rate"):
        Clock(rate=0.0)


def test_the_feed_clock_goes_by_the_stamps_and_never_back() -> None:
    """A later stamp moves it on, an older one changes nothing."""
    clock = FeedClock(1000.0)
    clock.hear(5000.0)
    assert 5000.0 <= clock.now_s() < 5001.0
    clock.hear(2000.0)
    assert clock.now_s() >= 5000.0


def test_a_shifted_clock_is_its_own_truth() -> None:
    """The demo's date is told to the engine as good, the true clock only if it is."""
    clock = Clock(starts_s=1_781_215_200.0)
    utc_s, quality = utc_news(clock)
    assert abs(utc_s - 1_781_215_200.0) < 5.0
    assert quality == "synchronised"
    assert utc_news(Clock())[1] in ("system", "synchronised")
