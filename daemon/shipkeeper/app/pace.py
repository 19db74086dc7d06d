"""How fast one person may be sent messages: push services block who sends too much.

Our choice: ten at once, then one in six seconds, which is below the limits that push services
commonly set (common practice, no source). A person's quiet hours are in the computer's own
time zone; only warnings and below keep them.
"""

from __future__ import annotations

from collections.abc import Callable

from .clock import steady_s

AT_ONCE = 10.0
EACH_S = 6.0


class Pace:
    """A store of permits that fills up again."""

    def __init__(self, clock: Callable[[], float] = steady_s) -> None:
        self._clock = clock
        self._permits, self._at_s = AT_ONCE, clock()

    def may_send(self) -> bool:
        now_s = self._clock()
        self._permits = min(AT_ONCE, self._permits + (now_s - self._at_s) / EACH_S)
        self._at_s = now_s
        return self._permits >= 1.0

    def sent(self) -> None:
        self._permits = max(0.0, self._permits - 1.0)
