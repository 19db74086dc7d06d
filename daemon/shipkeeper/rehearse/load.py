"""Alarm-load figures: how much these orders would have asked of a person.

Definitions follow the process-alarm practice of ISA-18.2 / IEC 62682 and EEMUA 191 as restated
in public sources (second-hand; the standards are sold documents): averages per day, hour and ten
minutes; a flood starts above 10 in ten minutes and ends below 5; chattering is 3 raises of one
alert in a minute; fleeting is cleared within 10 s and not back within a minute; stale is active
for over 24 hours; about 80 % of alerts of the lowest priority, 15 % middle, 5 % highest. Those
are for an operator who is awake. The night figures are ours, for a person asleep.

An announcement is a raise that a person hears or must acknowledge: into active-unacknowledged
from a state that was not active. It wakes when no other alert speaks for it. Cautions are
counted apart.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Sequence
from typing import Any

from ..words.orders import Orders
from ..words.timing import utc_text
from .occurrences import Occurrence, incidents, occurrences
from .told import Outcome, Told

TEN_MIN_S, HOUR_S, DAY_S = 600.0, 3600.0, 86_400.0
FLOOD_ABOVE, FLOOD_BELOW = 10, 5
CHATTER_RAISES, CHATTER_S = 3, 60.0
FLEETING_S, FLEETING_BACK_S = 10.0, 60.0
STALE_S = DAY_S
BUSY_WINDOW = 3  # more announcements than this in ten minutes: too many for a sleeper
NOON_S = 43_200.0
TOP = 10


def load_figures(outcomes: Sequence[Outcome], orders: Orders | None = None) -> dict[str, Any]:
    """The figures over all passages as a JSON-ready dict. Each passage is counted for itself:
    the time between two of them is nobody's."""
    span_s = max(sum(o.span_s for o in outcomes), 1.0)
    folded = [occurrences(o.told) for o in outcomes]
    raises = [r for found in folded for r in found]
    announced = [[r for r in found if r.announced] for found in folded]
    times = [[r.raised_s for r in found] for found in announced]
    count = sum(map(len, times))
    by_alert = Counter(r.alert for found in announced for r in found)
    nights = night_figures(outcomes, folded)
    wakes = [r for r in raises if r.wakes]
    figures: dict[str, Any] = {
        "span_s": round(span_s, 3),
        "announcements": count,
        "cautions": len(raises) - count,
        "per_day": _rate(count, span_s, DAY_S),
        "per_hour": _rate(count, span_s, HOUR_S),
        "per_10_min": _rate(count, span_s, TEN_MIN_S),
        "most_in_10_min": max((most_within(t, TEN_MIN_S) for t in times), default=0),
        "share_of_hours_over_30": _share_over(times, outcomes, HOUR_S, 30),
        "share_of_10_min_over_10": _share_over(times, outcomes, TEN_MIN_S, 10),
        "share_of_time_in_flood": _share_in_flood(times, outcomes, span_s),
        "share_of_top_10": _share(sum(n for _, n in by_alert.most_common(TOP)), count),
        "chattering": sorted({a for found in announced for a in _chattering(found)}),
        "fleeting": sum(_fleeting(found) for found in announced),
        "stale": _stale(outcomes, folded),
        "standing_at_end": sorted(
            {r.alert for found in folded[-1:] for r in found if r.cleared_s is None}
        ),
        "by_rule": dict(Counter(r.rule for r in raises if r.announced).most_common()),
        "share_by_rule": {
            rule: _share(n, count)
            for rule, n in Counter(r.rule for r in raises if r.announced).most_common()
        },
        "by_priority": dict(Counter(r.priority for r in raises)),
        "share_by_priority": {
            priority: _share(n, len(raises))
            for priority, n in Counter(r.priority for r in raises).most_common()
        },
        "put_aside_by_a_person": sum(
            1 for o in outcomes for t in o.told if t.transition.to == "shelved"
        ),
        "unknown_s": _unknown_s(outcomes),
        "share_of_time_unknown": _share_unknown(outcomes, span_s),
        "nights": nights,
        "wake_ups": len(wakes),
        "wake_ups_per_night": round(len(wakes) / max(1, len(nights)), 3),
        "wake_ups_that_cleared_by_themselves": sum(1 for r in wakes if r.cleared_by_itself),
        "nuisance_wake_ups": sum(1 for r in wakes if r.for_nothing),
        "nuisance_wake_ups_per_night": round(
            sum(1 for r in wakes if r.for_nothing) / max(1, len(nights)), 3
        ),
        "most_alerts_in_one_incident": max(
            (
                len({r.alert for r in group})
                for found in folded
                for group in incidents(found, TEN_MIN_S)
            ),
            default=0,
        ),
        "never_acknowledged": sum(1 for r in raises if r.announced and not r.answered),
        "share_of_10_min_over_3": _share_over(times, outcomes, TEN_MIN_S, BUSY_WINDOW),
    }
    if orders is not None:
        figures["rules_without_consequence_or_response"] = [
            rule.name
            for rule in orders.rules
            if rule.priority in ("alarm", "emergency alarm")
            and not (rule.consequence and rule.response)
        ]
    return figures


def night_figures(
    outcomes: Sequence[Outcome], folded: Sequence[Sequence[Occurrence]]
) -> list[dict[str, Any]]:
    """One row a night. A night goes from noon to noon of the sun where the boat lies (UTC noon
    where that is not known), so that none is cut in two; named by its evening."""
    rows: dict[str, dict[str, Any]] = {}
    for outcome, found in zip(outcomes, folded, strict=True):
        shift_s = (outcome.lon or 0.0) / 15.0 * HOUR_S
        evening = _evening(outcome.first_s, shift_s)
        while evening <= outcome.last_s + shift_s:
            name = utc_text(evening)[:10]
            row = rows.setdefault(
                name,
                {
                    "night": name, "watched_s": 0.0, "announcements": 0, "wake_ups": 0,
                    "nuisance_wake_ups": 0,
                },
            )  # fmt: skip
            begins, ends = evening - shift_s, evening - shift_s + DAY_S
            row["watched_s"] += round(min(ends, outcome.last_s) - max(begins, outcome.first_s), 3)
            for one in found:
                if begins <= one.raised_s < ends:
                    row["announcements"] += one.announced
                    row["wake_ups"] += one.wakes
                    row["nuisance_wake_ups"] += one.wakes and one.for_nothing
            evening += DAY_S
    return [rows[name] for name in sorted(rows)]


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


def _evening(at_s: float, shift_s: float) -> float:
    """The noon (in shifted seconds) at which the night around `at_s` began."""
    local = at_s + shift_s
    return local - (local - NOON_S) % DAY_S


def _rate(count: int, span_s: float, per_s: float) -> float:
    return round(count * per_s / span_s, 4)


def _share(part: float, whole: float) -> float:
    return round(part / whole, 4) if whole else 0.0


def _share_over(
    times: Sequence[Sequence[float]], outcomes: Sequence[Outcome], window_s: float, limit: int
) -> float:
    """Share of the windows, laid end to end over each passage, with more raises than that."""
    windows = over = 0
    for found, outcome in zip(times, outcomes, strict=True):
        windows += max(1, -(-int(outcome.span_s) // int(window_s)))
        counts = Counter(int((at_s - outcome.first_s) // window_s) for at_s in found)
        over += sum(1 for count in counts.values() if count > limit)
    return round(over / windows, 5) if windows else 0.0


def _share_in_flood(
    times: Sequence[Sequence[float]], outcomes: Sequence[Outcome], span_s: float
) -> float:
    flooded = sum(_flood_s(t, o.last_s) for t, o in zip(times, outcomes, strict=True))
    return round(flooded / span_s, 5)


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


def _stale(outcomes: Sequence[Outcome], folded: Sequence[Sequence[Occurrence]]) -> list[str]:
    return sorted(
        {
            raised.alert
            for outcome, found in zip(outcomes, folded, strict=True)
            for raised in found
            if (raised.cleared_s or outcome.last_s) - raised.raised_s > STALE_S
        }
    )


def _unknown_s(outcomes: Sequence[Outcome]) -> dict[str, float]:
    """Seconds that each alert could not be judged while it was not active."""
    total: dict[str, float] = {}
    for outcome in outcomes:
        for alert, spans in unknown_spans(outcome.told, outcome.last_s).items():
            total[alert] = total.get(alert, 0.0) + sum(b - a for a, b in spans)
    return {alert: round(seconds, 3) for alert, seconds in sorted(total.items())}


def _share_unknown(outcomes: Sequence[Outcome], span_s: float) -> float:
    """Share of the time in which at least one order could not be judged."""
    blind = 0.0
    for outcome in outcomes:
        ends = float("-inf")
        found = unknown_spans(outcome.told, outcome.last_s).values()
        for a, b in sorted(span for spans in found for span in spans):
            blind += max(0.0, b - max(a, ends))
            ends = max(ends, b)
    return round(blind / span_s, 5)


def unknown_spans(told: Sequence[Told], last_s: float) -> dict[str, list[tuple[float, float]]]:
    """When each alert could not be judged."""
    since: dict[str, float] = {}
    spans: dict[str, list[tuple[float, float]]] = {}
    for one in told:
        alert = one.transition.alert
        if one.transition.to == "unknown":
            since.setdefault(alert, one.at_s)
        elif alert in since:
            spans.setdefault(alert, []).append((since.pop(alert), one.at_s))
    for alert, at_s in since.items():
        spans.setdefault(alert, []).append((at_s, last_s))
    return spans
