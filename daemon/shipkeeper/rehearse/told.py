"""What a rehearsal gives: one line a transition, with the little else that figures need."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from ..words.alert import Transition
from ..words.effects import Record

FAR = ("distance_m", "range_m")  # facts that tell how far it had come, the first that is there


class Told(msgspec.Struct, frozen=True):
    """A transition as it goes through queues and networks: small, whole, comparable."""

    at_s: float
    transition: Transition
    led_by: str | None = None  # another alert speaks for this one: no sound of its own
    far_m: float | None = None  # boat from mark, or target from boat


class Outcome(msgspec.Struct, frozen=True):
    """One passage, run through."""

    told: tuple[Told, ...]
    first_s: float
    last_s: float
    lines: int
    lon: float | None = None  # where it was, for telling nights apart
    torn: tuple[str, ...] = ()  # files that end in the middle
    not_watched: str = ""  # why the watch asked for was never set

    @property
    def span_s(self) -> float:
        return max(0.0, self.last_s - self.first_s)


def told_of(record: Record, led_by: str | None) -> Told:
    facts = record.alert.facts
    far = next((facts[key] for key in FAR if isinstance(facts.get(key), int | float)), None)
    return Told(record.at_s, record.transition, led_by, far)


def all_told(outcomes: Sequence[Outcome]) -> list[Told]:
    return [told for outcome in outcomes for told in outcome.told]
