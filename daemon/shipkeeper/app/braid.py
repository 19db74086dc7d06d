"""Several wires of a played feed, woven by their own stamps. For demos and tests only.

A night played hundreds of times faster than life comes over several wires, and a wire that is
some milliseconds late is minutes late in the night. So with the feed's clock lines wait until
every wire that is still talking has come as far. A wire that is down, or has been quiet for
`QUIET_S`, is not waited for: long enough for a thread to be held up on a busy machine, or one
wire would run minutes ahead and the other seem to have fallen silent.
"""

from __future__ import annotations

from collections import deque

from ..feed.tagblock import split_tags
from .clock import steady_s

QUIET_S = 2.0

Woven = tuple[float, str, str]  # stamp, input, text


class Braid:
    """Not safe by itself: the inbox calls it under its lock."""

    def __init__(self) -> None:
        self._waiting: dict[str, deque[Woven]] = {}
        self._last_s: dict[str, float] = {}
        self._heard_s: dict[str, float] = {}

    def add(self, name: str, texts: list[str]) -> None:
        """Lines of one wire, in its own order; one without a stamp takes that before it."""
        mine = self._waiting.setdefault(name, deque())
        self._heard_s[name] = steady_s()
        for text in texts:
            if text.startswith("\\"):
                tag, _ = split_tags(text)
                if tag.time_s is not None:
                    self._last_s[name] = max(tag.time_s, self._last_s.get(name, 0.0))
            mine.append((self._last_s.get(name, 0.0), name, text))

    def down(self, name: str) -> None:
        """Not waited for until it talks again; what it said before still counts."""
        if name in self._heard_s:
            self._heard_s[name] = float("-inf")

    def ready(self, *, all_of_them: bool = False) -> list[Woven]:
        """Lines that no talking wire can come before any more, by their stamps."""
        edge_s = steady_s() - QUIET_S
        talking = [last_s for name, last_s in self._last_s.items() if self._heard_s[name] >= edge_s]
        upto_s = min(talking, default=float("inf")) if not all_of_them else float("inf")
        out: list[Woven] = []
        for mine in self._waiting.values():
            while mine and mine[0][0] <= upto_s:
                out.append(mine.popleft())
        out.sort(key=lambda woven: woven[0])
        return out

    def __len__(self) -> int:
        return sum(len(mine) for mine in self._waiting.values())
