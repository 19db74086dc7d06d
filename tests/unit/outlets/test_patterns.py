"""The sound patterns against what bridge alert management and the sleepers' studies ask for."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.outlets.patterns import PATTERNS, TONE_HZ, lit, pattern

LOUD = ["warning", "alarm", "alarm stage 2", "emergency", "fault", "drill", "click", "refused"]


def heard(name: str, for_s: float = 40.0, step_s: float = 0.005) -> list[tuple[float, float, int]]:
    """(start, length, Hz) of each pulse, as an ear would take them down."""
    pulses: list[tuple[float, float, int]] = []
    before, began = 0, 0.0
    for tick in range(round(for_s / step_s)):
        at = tick * step_s
        now = pattern(name).sounding(at)
        if now != before:
            if before:
                pulses.append((began, at - began, before))
            before, began = now, at
    return pulses


@pytest.mark.parametrize(
    ("name", "in_group", "period_s"),
    [
        # alerts.md 2.3, our table; 3 and 2 short signals and 7 to 10 s: bridge alert
        # management (IEC 62923-1, from memory)
        ("emergency", 10, 3.0),
        ("alarm", 3, 8.0),
        ("alarm stage 2", 5, 4.0),
        ("fault", 2, 30.0),
    ],
)
def test_a_repeating_pattern_has_its_pulses_and_its_period(
    name: str, in_group: int, period_s: float
) -> None:
    """So many pulses of 150 ms in each period, for ever."""
    pulses = heard(name)
    for first in range(int(40.0 / period_s) - 1):
        group = [p for p in pulses if first * period_s <= p[0] + 1e-9 < (first + 1) * period_s]
        assert len(group) == in_group
        assert all(abs(length - 0.15) < 0.006 for _, length, _ in group)


def test_a_warning_sounds_twice_and_is_over() -> None:
    """A momentary signal: the engine asks again when it is due again."""
    assert len(heard("warning", 120.0)) == 2
    assert pattern("warning").over(0.5)
    assert not pattern("alarm").over(1e6)


def test_caution_and_silence_make_no_sound() -> None:
    """Cautions are silent (IMO MSC.302(87))."""
    assert heard("caution") == heard("silence") == []


@pytest.mark.parametrize("name", ["warning", "alarm", "alarm stage 2", "emergency", "drill"])
def test_the_tone_wakes_sleepers(name: str) -> None:
    """520 Hz within 10 % (NFPA 72, 18.4.5.3, at second hand), far below a piezo's 3 kHz."""
    assert all(468 <= hz <= 572 for _, _, hz in heard(name))


def test_the_fault_is_low_then_high() -> None:
    """No alarm begins with the low tone: the watch itself is at fault."""
    assert [hz for _, _, hz in heard("fault", 10.0)] == [350, TONE_HZ]


def test_a_drill_begins_with_one_long_tone() -> None:
    """A full second, that no real alarm has."""
    lengths = [length for _, length, _ in heard("drill", 7.9)]
    assert abs(lengths[0] - 1.0) < 0.01
    assert len(lengths) == 4
    for name in ("warning", "alarm", "alarm stage 2", "emergency", "fault"):
        assert all(length < 0.2 for _, length, _ in heard(name))


@pytest.mark.parametrize("name", LOUD)
def test_no_pattern_is_one_that_others_own(name: str) -> None:
    """Not three times half a second (ISO 8201, evacuation), nor seven short and one long
    (a ship's general emergency)."""
    lengths = [length for _, length, _ in heard(name)]
    assert not any(0.4 < length < 0.7 for length in lengths)
    for first in range(len(lengths) - 7):
        *seven, last = lengths[first : first + 8]
        assert not (max(seven) < 0.3 and last > 0.5)


def test_a_pattern_nobody_knows_sounds_as_an_alarm() -> None:
    """A slip in a name must never be silence."""
    assert pattern("no such pattern") is PATTERNS["alarm"]


@given(st.sampled_from(LOUD), st.integers(0, 1_000_000))
def test_the_next_change_is_where_the_tone_changes(name: str, at_ms: int) -> None:
    """Nothing changes before it, and something does just after."""
    at_s = (at_ms + 0.5) / 1000  # never on an edge: these are whole milliseconds
    played = pattern(name)
    wait_s = played.next_change(at_s)
    assert wait_s > 0
    if math.isinf(wait_s):
        assert played.sounding(at_s) == played.sounding(at_s + 1e6) == 0
        return
    now = played.sounding(at_s)
    assert played.sounding(at_s + wait_s * 0.5) == now
    assert played.sounding(at_s + wait_s + 1e-6) != now


def test_a_lamp_flashes_as_the_eye_wants_it() -> None:
    """0.5 to 1.5 Hz and lit at least half of the time (control-room ergonomics guidance)."""
    steps = [lit("flash", tick / 100)[0] for tick in range(1000)]
    starts = sum(1 for a, b in itertools.pairwise(steps) if b and not a)
    assert 5 <= starts <= 15
    assert sum(steps) >= 500
    assert lit("steady", 3.0) == (True, math.inf)
    assert lit("off", 3.0) == (False, math.inf)
