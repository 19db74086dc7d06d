"""Sound patterns by name: what sounds when, as segments of time. Pure data and arithmetic.

Three short signals for an alarm, two for a warning, as bridge alert management has them; the
group of an alarm comes back every 8 s (its 7 to 10). 520 Hz wakes sleepers best (NFPA 72). The
patterns of a ship's general emergency (7 short, 1 long) and of building evacuation (three of
half a second) are other people's and never used here.
"""

from __future__ import annotations

import math

import msgspec

PULSE_S = 0.15
GAP_S = 0.15
TONE_HZ = 520
LOW_HZ = 350


class Pattern(msgspec.Struct, frozen=True):
    """pulses: (start s, length s, Hz) within one group; period: of the group; None: once."""

    pulses: tuple[tuple[float, float, int], ...]
    period_s: float | None

    def sounding(self, since_s: float) -> int:
        """The tone (Hz) at a time since the pattern began; 0 is silence."""
        at = self._within(since_s)
        for start, length, hz in self.pulses:
            if start <= at < start + length:
                return hz
        return 0

    def next_change(self, since_s: float) -> float:
        """Seconds from then until the tone changes; infinity when it never will."""
        at = self._within(since_s)
        for start, length, _ in self.pulses:
            for edge in (start, start + length):
                if edge > at:
                    return edge - at
        if self.period_s is None or not self.pulses:
            return math.inf
        return self.period_s - at + self.pulses[0][0]

    def over(self, since_s: float) -> bool:
        """It sounds once and has done so."""
        return self.period_s is None and self.next_change(since_s) == math.inf

    @property
    def momentary(self) -> bool:
        return self.period_s is None

    @property
    def drawn(self) -> str:
        """As a line of text: a dot a pulse, a gap where there is one."""
        text, last_end = "", 0.0
        for start, length, hz in self.pulses:
            if text and start - last_end > 1.5 * GAP_S:
                text += " "
            text += "_" if hz == LOW_HZ else "=" if length > 0.5 else "." if length > 0.1 else "'"
            last_end = start + length
        return text

    def _within(self, since_s: float) -> float:
        if self.period_s is None or since_s < 0:
            return since_s
        return since_s % self.period_s


def _row(counts: tuple[int, ...], period_s: float | None, gap_s: float = GAP_S) -> Pattern:
    """Groups of short pulses with a longer gap between the groups."""
    pulses = []
    at = 0.0
    for count in counts:
        for _ in range(count):
            pulses.append((round(at, 3), PULSE_S, TONE_HZ))
            at += PULSE_S + gap_s
        at += 2 * GAP_S - gap_s
    return Pattern(tuple(pulses), period_s)


PATTERNS: dict[str, Pattern] = {
    "silence": Pattern((), None),
    "caution": Pattern((), None),
    "warning": _row((2,), None),  # once; the engine asks again at the escalation timer
    "alarm": _row((3,), 8.0),
    "alarm stage 2": _row((3, 2), 4.0),
    # Ten pulses and both rests must go into 3 s, so the gaps inside a group are shorter here.
    "emergency": _row((5, 5), 3.0, gap_s=0.10),
    "fault": Pattern(((0.0, PULSE_S, LOW_HZ), (0.3, PULSE_S, TONE_HZ)), 30.0),
    # The real pattern, each time with one long tone before it that no alarm has.
    "drill": Pattern(((0.0, 1.0, TONE_HZ), (1.5, PULSE_S, TONE_HZ), (1.8, PULSE_S, TONE_HZ),
                      (2.1, PULSE_S, TONE_HZ)), 8.0),
    "click": Pattern(((0.0, 0.08, TONE_HZ),), None),
    "refused": Pattern(((0.0, 0.08, LOW_HZ), (0.16, 0.08, LOW_HZ), (0.32, 0.08, LOW_HZ)), None),
}  # fmt: skip

URGENT = frozenset({"alarm", "alarm stage 2", "emergency"})
UNKNOWN = PATTERNS["alarm"]  # a name that nobody knows sounds as an alarm, never as silence


def pattern(name: str) -> Pattern:
    """The pattern of that name."""
    return PATTERNS.get(name, UNKNOWN)


def lit(lamp: str, since_s: float) -> tuple[bool, float]:
    """A lamp's light by name: (on now, seconds until it changes).

    'flash' is 1 Hz and 60 % on (0.5 to 1.5 Hz and at least 50 %), for the unacknowledged alone;
    'slow' is one second in four, for a watch that cannot see.
    """
    if lamp in ("off", "steady"):
        return lamp == "steady", math.inf
    period_s, on_s = (4.0, 1.0) if lamp == "slow" else (1.0, 0.6)
    at = since_s % period_s
    return (True, on_s - at) if at < on_s else (False, period_s - at)
