"""Waiting before the next try: longer each time, with jitter, and awake to a stop."""

from __future__ import annotations

import random
import threading

FIRST_S, MOST_S = 0.5, 15.0


class Backoff:
    """0.5 s, 1 s, 2 s ... up to 15 s, each spread by a quarter."""

    def __init__(self, first_s: float = FIRST_S, most_s: float = MOST_S) -> None:
        self._first_s, self._most_s = first_s, most_s
        self._next_s = first_s

    def reset(self) -> None:
        self._next_s = self._first_s

    def wait(self, stop: threading.Event) -> None:
        # Jitter keeps several wires of one dead server from knocking in step.
        stop.wait(self._next_s * random.uniform(0.75, 1.25))
        self._next_s = min(self._most_s, self._next_s * 2)
