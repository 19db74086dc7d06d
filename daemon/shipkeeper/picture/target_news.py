"""News of targets for the journal: lost, jumped, shed. Bounded, or a flood would fill the disk.

Forged identities by the thousand fall silent by the thousand. What matters of them is raised by
the rules; here only so many lines a minute are told one by one, the rest as one line with a
count (both figures our decision).
"""

from __future__ import annotations

LINES_A_MINUTE = 30
MINUTE_S = 60.0


class TargetNews:
    """Lines worth the journal, with their stamps, until they are taken."""

    def __init__(self) -> None:
        self._lines: list[tuple[float, str]] = []
        self._minute_s: float | None = None  # when the running minute began
        self._told = 0  # lines in it
        self._untold = 0  # more than could be told

    def put(self, at_s: float, text: str) -> None:
        self._turn(at_s)
        if self._minute_s is None:
            self._minute_s = at_s
        if self._told < LINES_A_MINUTE:
            self._told += 1
            self._lines.append((at_s, text))
        else:
            self._untold += 1

    def take(self, now_s: float) -> list[tuple[float, str]]:
        """What has come since the last time, in order."""
        self._turn(now_s)
        lines, self._lines = self._lines, []
        return lines

    def _turn(self, now_s: float) -> None:
        """At the end of a minute what was left out is told as a number."""
        if self._minute_s is None or now_s - self._minute_s < MINUTE_S:
            return
        if self._untold:
            self._lines.append((self._minute_s + MINUTE_S, f"{self._untold} more lines like these"))
        self._minute_s, self._told, self._untold = None, 0, 0
