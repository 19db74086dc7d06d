"""When each target's silence is next to be looked at: as lost, or as too old to keep.

A thousand ships are silent most of the time, and only a handful of them for too long. So each
stands in a queue by the time at which that could first be so; a report that comes meanwhile is
seen when its turn comes, and only one that brings the time forward takes a new place.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable
from operator import attrgetter

from .targets import DROP_AFTER_S, Target

# Places of those that were let go stay until their time: forged by the thousand they would fill
# memory. So many for each that is kept, then the queue is made anew.
STALE_SHARE, STALE_LEAST = 4, 1000
EARLY_S = 0.001  # the queue only says when to look; who looks reckons it exactly


class Silence:
    """A queue of keys; owned by the set of targets."""

    __slots__ = ("_queue",)

    def __init__(self) -> None:
        self._queue: list[tuple[float, str]] = []

    def __len__(self) -> int:
        return len(self._queue)

    def watch(self, target: Target) -> None:
        """After whatever may have brought its time forward: a report, a new interval."""
        due_s = target.heard_s + DROP_AFTER_S
        if target.updates and not target.lost:
            due_s = min(due_s, target.sighted_s + target.reckon_s)
        due_s -= EARLY_S
        if due_s < target.look_s:
            target.look_s = due_s
            heapq.heappush(self._queue, (due_s, target.key))

    def due(self, by_key: dict[str, Target], now_s: float) -> list[Target]:
        """Those whose turn it is, in the order in which they were first heard. Each must be
        watched anew, if it is kept."""
        queue = self._queue = kept_short(self._queue, by_key, attrgetter("look_s"))
        found = []
        while queue and queue[0][0] <= now_s:
            due_s, key = heapq.heappop(queue)
            target = by_key.get(key)
            if target is not None and target.look_s == due_s:
                target.look_s = math.inf
                found.append(target)
        found.sort(key=_serial)
        return found


def kept_short(
    queue: list[tuple[float, str]], by_key: dict[str, Target], due: Callable[[Target], float]
) -> list[tuple[float, str]]:
    """The queue, made anew without places that count no more once there are too many of them.
    due: the time of the one place of a target that counts."""
    if len(queue) <= STALE_SHARE * len(by_key) + STALE_LEAST:
        return queue
    fresh = [
        (due_s, key)
        for due_s, key in queue
        if (target := by_key.get(key)) is not None and due(target) == due_s
    ]
    heapq.heapify(fresh)
    return fresh


def _serial(target: Target) -> int:
    return target.serial
