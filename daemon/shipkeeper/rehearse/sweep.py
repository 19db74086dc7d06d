"""One key of the orders at many values: how often for nothing, how early, how far; and which.

What is real? Where the expectations say that an alert of this rule must be raised, that is real
and every other raise is for nothing. Where nobody has said, it is our guess: what was over
within ten minutes, never worse and unanswered, was for nothing; all else counts as real. Raises
of one alert under several settings are one event when they overlap or are near in time.
"""

from __future__ import annotations

import fnmatch
import math
from collections.abc import Sequence
from typing import Any

import msgspec

from ..words.timing import duration_text, utc_text
from .expect import Expectation
from .load import night_figures
from .occurrences import Occurrence, occurrences
from .told import Outcome

APART_S = 600.0
TARGET_PER_NIGHT = 0.1  # alerts.md 4.1: at most one nuisance wake-up in ten nights
EARLY_ENOUGH_S = 5.0  # settings this near to each other are equally early
THIN_NIGHTS, THIN_EVENTS = 10, 3


class Setting(msgspec.Struct, kw_only=True):
    """One value, and what it would have done."""

    value: str
    nuisance: int = 0
    nuisance_per_night: float = 0.0
    found: int = 0  # real events that were raised
    late_s: list[float] = []  # after the earliest setting, one for each event found
    far_m: list[float] = []  # how far it had come when raised
    raised: list[float | None] = []  # one for each event: when (engine seconds), None: never

    @property
    def latest_s(self) -> float | None:
        return max(self.late_s, default=None)

    @property
    def farthest_m(self) -> float | None:
        return max(self.far_m, default=None)


class Swept(msgspec.Struct, kw_only=True):
    """The table, and what it says."""

    key: str
    rule: str
    nights: int
    events: int
    settings: list[Setting]
    recommended: str | None
    why: str
    evidence: str
    said_by: str  # 'expectations' or 'guess'


def tabled(
    key: str,
    rule: str,
    values: Sequence[str],
    runs: Sequence[Sequence[Outcome]],
    expectations: Sequence[Expectation] = (),
) -> Swept:
    """`runs`: for each value the outcomes of all passages, in the same order."""
    nights = max(1, len(night_figures(runs[0], [[] for _ in runs[0]])))
    found = [_of_rule(outcomes, rule) for outcomes in runs]
    said = [e for e in expectations if e.real and _about(e, found, rule)]
    events = _expected(said) if said else _guessed(found)
    settings = [_setting(v, f, events, nights) for v, f in zip(values, found, strict=True)]
    for number in range(len(events)):
        times = [at_s for s in settings if (at_s := s.raised[number]) is not None]
        for setting in settings:
            at_s = setting.raised[number]
            if at_s is not None:
                setting.late_s.append(round(at_s - min(times), 3))
    best, why = recommend(settings, len(events), nights)
    return Swept(
        key=key,
        rule=rule,
        nights=nights,
        events=len(events),
        settings=settings,
        recommended=None if best is None else best.value,
        why=why,
        evidence=evidence(nights, len(events), best, told_by_person=bool(said)),
        said_by="expectations" if said else "guess",
    )


class _Event(msgspec.Struct):
    """Something real: one or more alerts within a span."""

    alert: str
    from_s: float
    to_s: float

    def is_of(self, one: Occurrence) -> bool:
        """Raised within it, or standing while it is so."""
        ends_s = math.inf if one.cleared_s is None else one.cleared_s
        return (
            fnmatch.fnmatchcase(one.alert, self.alert)
            and one.raised_s <= self.to_s
            and ends_s >= self.from_s
        )


def _of_rule(outcomes: Sequence[Outcome], rule: str) -> list[Occurrence]:
    return [
        one for o in outcomes for one in occurrences(o.told) if one.rule == rule and one.announced
    ]


def _about(one: Expectation, found: Sequence[Sequence[Occurrence]], rule: str) -> bool:
    """Whether it speaks of alerts of this rule."""
    slug = one.alert.partition(":")[0]
    return any(
        fnmatch.fnmatchcase(o.alert, one.alert) for occ in found for o in occ
    ) or slug == rule.casefold().replace(" ", "-")


def _expected(said: Sequence[Expectation]) -> list[_Event]:
    return [_Event(e.alert, e.from_s, e.to_s) for e in said]


def _guessed(found: Sequence[Sequence[Occurrence]]) -> list[_Event]:
    """Events that at least one setting holds to be real."""
    events: list[_Event] = []
    real = [o for occ in found for o in occ if not o.for_nothing and not o.withdrawn]
    for one in sorted(real, key=lambda o: o.raised_s):
        ends_s = math.inf if one.cleared_s is None else one.cleared_s
        near = next(
            (e for e in events if e.alert == one.alert and one.raised_s <= e.to_s + APART_S), None
        )
        if near is None:
            events.append(_Event(one.alert, one.raised_s, ends_s))
        else:
            near.to_s = max(near.to_s, ends_s)
    return events


def _setting(
    value: str, found: Sequence[Occurrence], events: Sequence[_Event], nights: int
) -> Setting:
    setting = Setting(value=value)
    for event in events:
        hit = next((o for o in found if event.is_of(o)), None)
        setting.raised.append(None if hit is None else hit.raised_s)
        if hit is not None:
            setting.found += 1
            far = hit.far_m if hit.far_m is not None else hit.value
            if far is not None:
                setting.far_m.append(far)
    setting.nuisance = sum(1 for o in found if o.wakes and not any(e.is_of(o) for e in events))
    setting.nuisance_per_night = round(setting.nuisance / nights, 3)
    return setting


def recommend(settings: Sequence[Setting], events: int, nights: int) -> tuple[Setting | None, str]:
    """(the setting, why). None is lost for quiet: first every event, then few for nothing, then
    early; of equals the one nearest to the middle of them, which has slack on both sides."""
    most = max(s.found for s in settings)
    able = [s for s in settings if s.found == most]
    if len({(s.found, s.nuisance, tuple(s.raised)) for s in settings}) == 1:
        return None, "every value did the same here: these recordings cannot tell them apart"
    quiet = [s for s in able if s.nuisance_per_night <= TARGET_PER_NIGHT]
    if not quiet:
        least = min(s.nuisance for s in able)
        quiet = [s for s in able if s.nuisance == least]
        lead = "none keeps to one nuisance wake-up in ten nights; this one comes nearest"
    else:
        lead = "at most one nuisance wake-up in ten nights"
    if not events:
        best = quiet[len(quiet) // 2]
        return best, f"{lead}; nothing real happened, so how early it would be is not known"
    soonest = min(max(s.late_s, default=0.0) for s in quiet)
    early = [s for s in quiet if max(s.late_s, default=0.0) <= soonest + EARLY_ENOUGH_S]
    best = early[len(early) // 2]
    raised = "every real event is" if most == events else f"{most} of {events} real events are"
    why = f"{lead}; {raised} raised, by none of the others like it sooner"
    if best in (settings[0], settings[-1]):
        why += "; it is the end of what was tried: try further"
    return best, why


def evidence(nights: int, events: int, best: Setting | None, *, told_by_person: bool) -> str:
    """What the recommendation stands on, and how thin that is."""
    by = "as the expectations say" if told_by_person else "by our guess, as nobody has said"
    text = f"{_many(nights, 'night')}, {_many(events, 'real event')} ({by})."
    if best is not None:
        bound = most_likely_at_most(best.nuisance) / nights
        text += (
            f" {_many(best.nuisance, 'nuisance wake-up')}: the true rate may still be up to "
            f"{bound:.2g} a night (95 %)."
        )
    if nights < THIN_NIGHTS or events < THIN_EVENTS:
        thin = [f"only {_many(nights, 'night')}"] if nights < THIN_NIGHTS else []
        if events < THIN_EVENTS:
            thin.append(f"only {_many(events, 'real event')}" if events else "no real event")
        text += f" THIN: {', '.join(thin)}. Rehearse more nights, in other weather, first"
        text += "." if told_by_person else ", and say what was real with --expect."
    return text


def _many(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def most_likely_at_most(count: int) -> float:
    """Upper 95 % bound of a Poisson mean of which `count` were seen (0 -> 3.0, the rule of
    three): the mean at which so few would come in one of twenty."""
    low, high = float(count), count + 10.0 + 5.0 * math.sqrt(count + 1.0)
    for _ in range(60):
        middle = (low + high) / 2
        term = total = math.exp(-middle)
        for k in range(1, count + 1):
            term *= middle / k
            total += term
        low, high = (middle, high) if total > 0.05 else (low, middle)
    return high


def as_rows(swept: Swept) -> list[dict[str, Any]]:
    """One row a value, JSON-ready."""
    return [
        {
            "value": s.value,
            "nuisance_wake_ups": s.nuisance,
            "nuisance_wake_ups_per_night": s.nuisance_per_night,
            "events_raised": s.found,
            "events": swept.events,
            "late_s": s.late_s,
            "latest_s": s.latest_s,
            "far_m": s.far_m,
            "farthest_m": s.farthest_m,
            "raised": [None if at_s is None else utc_text(at_s) for at_s in s.raised],
            "recommended": s.value == swept.recommended,
        }
        for s in swept.settings
    ]


def late_text(setting: Setting) -> str:
    if setting.latest_s is None:
        return "-"
    return "earliest" if setting.latest_s == 0 else f"+{duration_text(setting.latest_s)}"
