"""The ear for AIS: is our receiver deaf, or is the bay empty?

No other ship heard is no fault in a remote bay. A transponder tells of itself, though: its own
reports (VDO) and its status sentences. Once they have been heard, their rhythm is known, and
their silence means that the receiver is dead. One that never tells of itself cannot be told
from an empty bay, and only its wire can be judged.
"""

from __future__ import annotations

TALKERS = frozenset({"AB", "AD", "AI", "AN", "AR", "AS", "AT", "AX", "BS", "SA"})
FROM_AFAR = frozenset({"VDM"})  # what others said; all else the receiver says by itself
INTERVALS = 5.0  # silent after five of its own intervals, at least 10 s (alerts.md 4.2, ours)
AT_LEAST_S = 10.0
AT_MOST_S = 900.0  # class B at anchor reports each three minutes (ITU-R M.1371), times five
NEEDED = 3  # signs before there is a rhythm


class AisEar:
    """What one wire lets us know of its AIS receiver."""

    __slots__ = ("_deaf_s", "_interval_s", "_sign_s", "_signs", "heard_s")

    def __init__(self) -> None:
        self.heard_s: float | None = None  # any AIS sentence
        self._sign_s: float | None = None  # one that the receiver says by itself
        self._signs = 0
        self._interval_s = 0.0
        self._deaf_s: float | None = None  # it was told to be silent, by an earlier run

    def recall(self, at_s: float) -> None:
        """An earlier run, which knew its rhythm, told that it is silent: so it is until heard."""
        self._deaf_s = at_s

    def hear(self, kind: str, talker: str, at_s: float) -> None:
        if talker not in TALKERS and kind not in ("VDM", "VDO"):
            return
        self.heard_s, self._deaf_s = at_s, None
        if kind in FROM_AFAR:
            return
        if self._sign_s is not None and at_s > self._sign_s:
            gap_s = min(at_s - self._sign_s, AT_MOST_S / INTERVALS)
            self._interval_s = max(gap_s, 0.8 * self._interval_s)
        if self._sign_s is None or at_s > self._sign_s:
            self._signs += 1
        self._sign_s = at_s

    @property
    def tells_of_itself(self) -> bool:
        return self._signs >= NEEDED

    def silent_since(self, now_s: float) -> float | None:
        """Stamp of the last that was heard, when it should have said something since."""
        if self._deaf_s is not None:
            return self._deaf_s
        if self.heard_s is None or not self.tells_of_itself:
            return None
        limit_s = min(max(AT_LEAST_S, INTERVALS * self._interval_s), AT_MOST_S)
        return self.heard_s if now_s - self.heard_s > limit_s else None
