"""The month's soak at its smallest: an hour of few ships through the real daemon, and its verdict.

The figures to hold (2 MB, constant descriptors and threads) are from the project's own goals.
"""

from __future__ import annotations

import time
from pathlib import Path

from tests.faults.soak import DAY_S, HALF_S, HOUR_S, Hour, Loop, soak, verdict

LEAST = {"ships": 20, "a_second": 1, "hz": 1}


def test_an_hour_is_played_and_nothing_is_owed(tmp_path: Path) -> None:
    run, wrong = soak(tmp_path, HOUR_S, time.monotonic() + 60.0, **LEAST)
    assert wrong == []
    assert run.simulated_s == HOUR_S
    [[hour]] = run.days
    assert 30.0 < hour.resident_mb < 200.0
    assert hour.threads > 5
    assert hour.descriptors > 5


def test_the_traffic_goes_out_and_comes_back_the_same_way() -> None:
    loop = Loop(0, **LEAST)
    there, back = (
        loop.second(number, 0.0, visited=True, blind=False) for number in (HALF_S - 1, HALF_S)
    )
    assert there.split(b",")[4] == back.split(b",")[4]  # the fix before and after the turn
    assert b"GPRMC" not in loop.second(0, 0.0, visited=False, blind=True)


def test_each_day_has_other_identities() -> None:
    def said(day: int) -> set[bytes]:
        loop = Loop(day, **LEAST)
        seconds = (loop.second(n, 0.0, visited=False, blind=True) for n in range(2 * HALF_S))
        return {
            line[14:20] for second in seconds for line in second.split(b"\r\n") if line[:1] == b"!"
        }

    first, second = said(0), said(1)
    assert len(first) > len(first & second)


def test_what_grows_is_seen() -> None:
    def days(grows_mb: float, threads: int = 20) -> list[list[Hour]]:
        return [
            [
                Hour(60.0 + grows_mb * day + 0.1 * (n % 3), 17, 20 if day < 3 else threads, False)
                for n in range(24)
            ]
            for day in range(5)
        ]

    assert verdict(days(0.1)) == []
    assert verdict(days(1.0)) == ["resident memory is not flat within 2 MB"]
    assert verdict(days(0.0, threads=21)) == ["threads grow"]
    assert verdict(days(0.0)[:2]) != []
    assert DAY_S == 24 * HOUR_S
