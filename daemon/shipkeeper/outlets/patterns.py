"""Sound patterns by name: what sounds when, as segments of time. Pure data and arithmetic.

Three short signals for an alarm, two for a warning, as bridge alert management has them; the
group of an alarm comes back every 8 s (its 7 to 10). 520 Hz wakes sleepers best (NFPA 72). The
patterns of a ship's general emergency (7 short, 1 long) and of building evacuation (three of
half a second) are other people's and never used here.
"""

from __future__ import annotations

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
        if since_s < 0:
            return 0
        at = since_s if self.period_s is None else since_s % self.period_s
        for start, length, hz in self.pulses:
            if start <= at < start + length:
                return hz
        return 0

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


def _row(counts: tuple[int, ...], period_s: float | None) -> Pattern:
    """Groups of short pulses with a longer gap between the groups."""
    pulses = []
    at = 0.0
    for count in counts:
        for _ in range(count):
            pulses.append((round(at, 3), PULSE_S, TONE_HZ))
            at += PULSE_S + GAP_S
        at += GAP_S
    return Pattern(tuple(pulses), period_s)


PATTERNS: dict[str, Pattern] = {
    "silence": Pattern((), None),
    "caution": Pattern((), None),
    "warning": _row((2,), 60.0),
    "alarm": _row((3,), 8.0),
    "alarm stage 2": _row((3, 2), 4.0),
    "emergency": _row((5, 5), 3.6),
    "fault": Pattern(((0.0, PULSE_S, LOW_HZ), (0.3, PULSE_S, TONE_HZ)), 30.0),
    "drill": Pattern(((0.0, 1.0, TONE_HZ), (1.5, PULSE_S, TONE_HZ), (1.8, PULSE_S, TONE_HZ),
                      (2.1, PULSE_S, TONE_HZ)), 8.0),
    "click": Pattern(((0.0, 0.08, TONE_HZ),), None),
}  # fmt: skip
