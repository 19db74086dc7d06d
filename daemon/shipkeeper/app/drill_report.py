"""What a drill saw, step by step, and what is to be thought of it. Pure; times are steady seconds.

Limits: input to sound within 2 s, to a phone's service within 15 s, silence within 2 s of the
answer (our own; the alert standards ask for a functional test of every output, IMO MSC.252(83)
24.2, second-hand).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from ..words.effects import Message, Wanted

SOUND_WITHIN_S = 2.0
PHONE_WITHIN_S = 15.0
SILENT_WITHIN_S = 2.0
ANSWERED = frozenset({"active-acknowledged", "active-transferred", "normal"})


class Way(msgspec.Struct):
    """One edge outlet: when it was given the first message, when that one arrived."""

    first: str = ""
    offered_s: float | None = None
    delivered_s: float | None = None


class Course(msgspec.Struct, kw_only=True):
    """Everything seen so far."""

    outlet: str | None
    wait_s: float
    sounders: list[str]
    begun_s: float = 0.0
    raised_s: float | None = None
    sound_s: dict[str, float] = {}
    silent_s: dict[str, float] = {}
    ways: dict[str, Way] = {}
    answered_s: float | None = None
    answered_by: str = ""
    broken_off: str = ""

    def shown(self, outlet: str, wanted: Wanted, now_s: float) -> None:
        if outlet not in self.sounders:
            return
        meant = wanted.outlets is None or outlet in wanted.outlets
        if wanted.pattern == "drill" and meant:
            self.sound_s.setdefault(outlet, now_s)
        elif self.answered_s is not None and outlet in self.sound_s:
            self.silent_s.setdefault(outlet, now_s)

    def offered(self, outlet: str, message: Message, now_s: float) -> None:
        way = self.ways.setdefault(outlet, Way())
        if way.offered_s is None:
            way.first, way.offered_s = message.id, now_s

    def delivered(self, outlet: str, ids: Sequence[str], now_s: float) -> None:
        way = self.ways.get(outlet)
        if way is not None and way.delivered_s is None and way.first in ids:
            way.delivered_s = now_s

    def seen(self, row: dict[str, Any], now_s: float) -> None:
        """The alert as the engine has it."""
        if self.raised_s is None and row["state"] != "normal":
            self.raised_s = now_s
        if self.raised_s is not None and self.answered_s is None and row["state"] in ANSWERED:
            self.answered_s = now_s
            self.answered_by = str(row.get("acknowledged_by") or "")

    def has_arrived(self) -> bool:
        """Nothing more is to be waited for."""
        quiet = all(name in self.silent_s for name in self.sound_s)
        return quiet and all(way.delivered_s is not None for way in self.ways.values())


class Step(msgspec.Struct, frozen=True):
    """One line of the report. `good` None: told, not judged."""

    what: str
    after_s: float | None
    limit_s: float | None
    good: bool | None
    remark: str = ""


class Outcome(msgspec.Struct, frozen=True):
    """The report of a drill that is over."""

    good: bool
    verdict: str
    outlet: str | None
    steps: tuple[Step, ...]

    def as_dict(self) -> dict[str, Any]:
        built: dict[str, Any] = msgspec.to_builtins(self)
        return built


def judged(course: Course) -> Outcome:
    """The report. Good is: every sounder, every outlet that was called, and a person."""
    steps = [_step("raised", course.begun_s, course.raised_s, SOUND_WITHIN_S)]
    steps += [
        _step(f"sound: {name}", course.begun_s, course.sound_s.get(name), SOUND_WITHIN_S)
        for name in course.sounders
    ]
    for name, way in sorted(course.ways.items()):
        steps.append(_step(f"sent: {name}", course.begun_s, way.delivered_s, PHONE_WITHIN_S))
    if course.outlet is not None and course.outlet not in (*course.sounders, *course.ways):
        steps.append(Step(f"sent: {course.outlet}", None, None, False, "was given no message"))
    by = f"by {course.answered_by}" if course.answered_by else ""
    steps.append(_step("answered", course.begun_s, course.answered_s, course.wait_s, by))
    if course.answered_s is not None:
        steps += [
            _step(f"silent: {name}", course.answered_s, course.silent_s.get(name), SILENT_WITHIN_S)
            for name in course.sound_s
        ]
    good = not course.broken_off and all(step.good is not False for step in steps)
    failed = [step.what for step in steps if step.good is False]
    if course.broken_off:
        verdict = f"broken off: {course.broken_off}"
    elif good:
        verdict = "the way to you holds"
    else:
        verdict = f"NOT PROVED: {', '.join(failed)}"
    return Outcome(good, verdict, course.outlet, tuple(steps))


def _step(what: str, from_s: float, at_s: float | None, limit_s: float, remark: str = "") -> Step:
    if at_s is None:
        return Step(what, None, limit_s, False, remark)
    after_s = round(at_s - from_s, 2)
    return Step(what, after_s, limit_s, after_s <= limit_s, remark)
