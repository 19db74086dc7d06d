"""Alarm-load figures: how much these orders would have asked of a person.

Definitions follow the process-alarm practice of ISA-18.2 / IEC 62682 and EEMUA 191 as restated
in public sources (second-hand; the standards are sold documents): averages per day, hour and ten
minutes; a flood starts above 10 in ten minutes and ends below 5; chattering is 3 raises of one
alert in a minute; fleeting is cleared within 10 s and not back within a minute; stale is active
for over 24 hours. Those are for an operator who is awake. The night figures (`wake_ups` and what
follows) are ours, for a person asleep.

An announcement is a raise that a person hears or must acknowledge: into active-unacknowledged
from a state that was not active. Cautions are counted apart.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Sequence
from typing import Any

import msgspec

from ..words.effects import Record

TEN_MIN_S, HOUR_S, DAY_S = 600.0, 3600.0, 86_400.0
FLOOD_ABOVE, FLOOD_BELOW = 10, 5
CHATTER_RAISES, CHATTER_S = 3, 60.0
FLEETING_S, FLEETING_BACK_S = 10.0, 60.0
STALE_S = DAY_S
BUSY_WINDOW = 3  # more announcements than this in ten minutes: too many for a sleeper

_ACTIVE = ("active", "active-unacknowledged", "active-silenced", "active-acknowledged",
           "active-transferred")  # fmt: skip


class Occurrence(msgspec.Struct):
    """One raise of one alert and what became of it."""

    alert: str
    rule: str
    priority: str
    raised_s: float
    cleared_s: float | None = None
    acknowledged: bool = False


def occurrences(records: Sequence[Record]) -> list[Occurrence]:
    """Fold transitions into raises. Order is that of raising."""
    found: list[Occurrence] = []
    open_: dict[str, Occurrence] = {}
    for record in records:
        line = record.transition
        was, now = line.from_ in _ACTIVE, line.to in _ACTIVE
        if now and not was:
            raised = Occurrence(line.alert, line.rule, line.priority, record.at_s)
            found.append(raised)
            open_[line.alert] = raised
        current = open_.get(line.alert)
        if current is None:
            continue
        if line.to == "active-acknowledged":
            current.acknowledged = True
        if was and not now and line.to != "shelved":
            current.cleared_s = record.at_s
    return found


def load_figures(records: Sequence[Record], first_s: float, last_s: float) -> dict[str, Any]:
    """The figures as a JSON-ready dict. Times in seconds of the recording's own clock."""
    raises = occurrences(records)
    announced = [r for r in raises if r.priority != "caution"]
    times = [r.raised_s for r in announced]
    span_s = max(last_s - first_s, 1.0)
    by_rule = Counter(r.rule for r in announced)
    by_priority = Counter(r.priority for r in raises)
    return {
        "span_s": round(span_s, 3),
        "announcements": len(announced),
        "cautions": len(raises) - len(announced),
        "per_day": _rate(len(times), span_s, DAY_S),
        "per_hour": _rate(len(times), span_s, HOUR_S),
        "per_10_min": _rate(len(times), span_s, TEN_MIN_S),
        "most_in_10_min": most_within(times, TEN_MIN_S),
        "share_of_hours_over_30": _share_over(times, first_s, span_s, HOUR_S, 30),
        "share_of_10_min_over_10": _share_over(times, first_s, span_s, TEN_MIN_S, 10),
        "share_of_time_in_flood": round(_flood_s(times, last_s) / span_s, 5),
        "chattering": sorted(_chattering(announced)),
        "fleeting": _fleeting(announced),
        "stale": sorted(
            {r.alert for r in raises if (r.cleared_s or last_s) - r.raised_s > STALE_S}
        ),
        "standing_at_end": sorted({r.alert for r in raises if r.cleared_s is None}),
        "by_rule": dict(by_rule.most_common()),
        "by_priority": dict(by_priority),
        "wake_ups": len(announced),
        "wake_ups_that_cleared_by_themselves": sum(
            1 for r in announced if r.cleared_s is not None and not r.acknowledged
        ),
        "never_acknowledged": sum(1 for r in announced if not r.acknowledged),
        "share_of_10_min_over_3": _share_over(times, first_s, span_s, TEN_MIN_S, BUSY_WINDOW),
        "unknown_s": _unknown_s(records, last_s),
    }


def most_within(times: Sequence[float], window_s: float) -> int:
    """The largest number of times within any window of that length (half-open)."""
    held: deque[float] = deque()
    most = 0
    for at_s in sorted(times):
        held.append(at_s)
        while at_s - held[0] >= window_s:
            held.popleft()
        most = max(most, len(held))
    return most


def _rate(count: int, span_s: float, per_s: float) -> float:
    return round(count * per_s / span_s, 4)


def _share_over(
    times: Sequence[float], first_s: float, span_s: float, window_s: float, limit: int
) -> float:
    windows = max(1, -(-int(span_s) // int(window_s)))
    counts = Counter(int((at_s - first_s) // window_s) for at_s in times)
    return round(sum(1 for count in counts.values() if count > limit) / windows, 5)


def _flood_s(times: Sequence[float], last_s: float) -> float:
    """Seconds between a ten-minute count going above 10 and coming below 5."""
    edges = sorted([(t, 1) for t in times] + [(t + TEN_MIN_S, -1) for t in times])
    count, since, total = 0, None, 0.0
    for at_s, change in edges:
        count += change
        if since is None and count > FLOOD_ABOVE:
            since = at_s
        elif since is not None and count < FLOOD_BELOW:
            total += min(at_s, last_s) - since
            since = None
    return total + (last_s - since if since is not None else 0.0)


def _chattering(raises: Sequence[Occurrence]) -> set[str]:
    by_alert: dict[str, list[float]] = {}
    for raised in raises:
        by_alert.setdefault(raised.alert, []).append(raised.raised_s)
    return {a for a, times in by_alert.items() if most_within(times, CHATTER_S) >= CHATTER_RAISES}


def _fleeting(raises: Sequence[Occurrence]) -> int:
    """Raises that cleared within 10 s and were not back within a minute."""
    count = 0
    for index, raised in enumerate(raises):
        if raised.cleared_s is None or raised.cleared_s - raised.raised_s > FLEETING_S:
            continue
        edge_s = raised.cleared_s + FLEETING_BACK_S
        back = any(r.alert == raised.alert and r.raised_s < edge_s for r in raises[index + 1 :])
        count += not back
    return count


def _unknown_s(records: Sequence[Record], last_s: float) -> dict[str, float]:
    """Seconds that each alert could not be judged while it was not active."""
    since: dict[str, float] = {}
    total: dict[str, float] = {}
    for record in records:
        alert = record.transition.alert
        if record.transition.to == "unknown":
            since[alert] = record.at_s
        elif alert in since:
            total[alert] = total.get(alert, 0.0) + record.at_s - since.pop(alert)
    for alert, at_s in since.items():
        total[alert] = total.get(alert, 0.0) + last_s - at_s
    return {alert: round(seconds, 3) for alert, seconds in sorted(total.items())}
