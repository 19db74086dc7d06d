"""Nights made up for tests: transitions by hand, and what a rehearsal would have given."""

from __future__ import annotations

from typing import Any

from shipkeeper.rehearse.told import Outcome, Told
from shipkeeper.words.alert import Transition

UNACK, RECT, ACK = "active-unacknowledged", "rectified-unacknowledged", "active-acknowledged"


def told(
    at_s: float, alert: str, from_: str, to: str, priority: str = "alarm", **more: Any
) -> Told:
    """One transition of a made-up alert."""
    line: dict[str, Any] = {
        "at": "", "kind": "zone", "subject": "x", "mmsi": None, "occurrence": 1, "value": None,
        "limit": None, "unit": "", "lat": None, "lon": None, "text": "", "reason": "condition",
    }  # fmt: skip
    ends = {key: more.pop(key) for key in ("led_by", "far_m") if key in more}
    transition = Transition(
        alert=alert, rule=alert.split(":")[0], priority=priority, from_=from_, to=to, **line | more
    )
    return Told(at_s, transition, **ends)


def night(first_s: float, last_s: float, *lines: Told, lon: float | None = None) -> Outcome:
    return Outcome(told=lines, first_s=first_s, last_s=last_s, lines=0, lon=lon)
