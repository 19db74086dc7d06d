"""Transitions folded into occurrences: one raise of one alert, and what became of it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from .told import Told

ACTIVE = frozenset(
    ("active", "active-unacknowledged", "active-silenced", "active-acknowledged",
     "active-transferred")
)  # fmt: skip
NUISANCE_S = 600.0  # cleared by itself sooner than this, answered by nobody: for nothing (ours)


class Occurrence(msgspec.Struct):
    """One raise of one alert."""

    alert: str
    rule: str
    kind: str
    subject: str
    priority: str
    raised_s: float
    text: str = ""
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    far_m: float | None = None
    lat: float | None = None
    lon: float | None = None
    led: bool = False  # another alert spoke for it: no sound of its own
    cleared_s: float | None = None
    acknowledged_s: float | None = None
    worse: bool = False
    withdrawn: bool = False  # the watch or the orders changed under it
    highest: str = ""  # priority that it came to

    @property
    def announced(self) -> bool:
        """A person hears it or must answer it."""
        return self.priority != "caution"

    @property
    def wakes(self) -> bool:
        return self.announced and not self.led

    @property
    def over(self) -> bool:
        return self.cleared_s is not None

    @property
    def answered(self) -> bool:
        """Somebody acknowledged it, while it held or after."""
        return self.acknowledged_s is not None

    @property
    def cleared_by_itself(self) -> bool:
        if self.cleared_s is None or self.withdrawn:
            return False
        return self.acknowledged_s is None or self.acknowledged_s > self.cleared_s

    @property
    def for_nothing(self) -> bool:
        """Our guess where nobody has said what was true: over soon, never worse, unanswered."""
        return (
            self.cleared_by_itself
            and not self.worse
            and self.cleared_s is not None
            and self.cleared_s - self.raised_s < NUISANCE_S
        )


def occurrences(told: Iterable[Told]) -> list[Occurrence]:
    """In order of raising."""
    found: list[Occurrence] = []
    latest: dict[str, Occurrence] = {}
    for one in told:
        line = one.transition
        was, now = line.from_ in ACTIVE, line.to in ACTIVE
        current = latest.get(line.alert)
        off_the_shelf = line.from_ == "shelved" and current is not None
        grew = line.from_ == "active" and line.to == "active-unacknowledged"
        if grew and current is not None:
            current.cleared_s = one.at_s  # a caution that became more: told now, to a person
        if grew or (now and not was and not (off_the_shelf and current and not current.over)):
            current = latest[line.alert] = _raised(one)
            found.append(current)
        if current is None:
            continue
        if line.reason == "acknowledge" and current.acknowledged_s is None:
            current.acknowledged_s = one.at_s
        if line.reason in ("worse", "escalation"):
            current.worse = current.worse or line.reason == "worse"
            current.highest = line.priority
        over = was and not now and line.to != "shelved"
        if over and current.cleared_s is None:
            current.cleared_s = one.at_s
            current.withdrawn = line.reason == "watch"
    return found


def _raised(one: Told) -> Occurrence:
    line = one.transition
    return Occurrence(
        alert=line.alert,
        rule=line.rule,
        kind=line.kind,
        subject=line.subject,
        priority=line.priority,
        raised_s=one.at_s,
        text=line.text,
        value=line.value,
        limit=line.limit,
        unit=line.unit,
        far_m=one.far_m,
        lat=line.lat,
        lon=line.lon,
        led=one.led_by is not None,
        highest=line.priority,
    )


def incidents(found: Sequence[Occurrence], apart_s: float) -> list[list[Occurrence]]:
    """What wakes, in groups that begin at least `apart_s` after the one before."""
    groups: list[list[Occurrence]] = []
    for one in found:
        if not one.wakes:
            continue
        if groups and one.raised_s - groups[-1][-1].raised_s < apart_s:
            groups[-1].append(one)
        else:
            groups.append([one])
    return groups
