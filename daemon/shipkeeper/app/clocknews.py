"""Tells the engine what the computer holds UTC to be: every ten minutes, and when it stepped."""

from __future__ import annotations

import threading
from collections.abc import Callable

from .clock import Clock, Quality, utc_news

EVERY_S = 600.0
LOOK_S = 10.0
STEP_S = 1.0


def tell_clock(clock: Clock, tell: Callable[[float, Quality], None], stop: threading.Event) -> None:
    """A thread's body; `tell` is the inbox's clock_news."""
    offset_s, quality, waited_s = _reading(clock)[1], _reading(clock)[2], 0.0
    while not stop.wait(LOOK_S):
        waited_s += LOOK_S
        utc_s, now_offset_s, now_quality = _reading(clock)
        stepped = abs(now_offset_s - offset_s) > STEP_S
        if stepped or now_quality != quality or waited_s >= EVERY_S:
            offset_s, quality, waited_s = now_offset_s, now_quality, 0.0
            tell(utc_s, now_quality)


def _reading(clock: Clock) -> tuple[float, float, Quality]:
    utc_s, quality = utc_news(clock)
    return utc_s, utc_s - clock.now_s(), quality
