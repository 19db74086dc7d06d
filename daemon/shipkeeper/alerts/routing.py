"""Who is told: which outlets an alert goes to at once, and whom the call list adds later.

A rule's `call` names outlets; without it the alert goes to every outlet, except people whom
the call list names for later: these are woken when nobody answers. Level outlets (buzzer,
lamp, retained state) are shown the state and are never sent messages.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import msgspec

from ..words.alert import Priority
from ..words.orders import CallListEntry, OutletTable
from .timings import Timings


class Stage(msgspec.Struct, frozen=True):
    """One step of the calls: when (after the alarm began), how urgent, and who is added."""

    after_s: float
    level: int
    adds: tuple[str, ...] = ()


class Routes:
    """Worked out once from the orders."""

    def __init__(
        self,
        outlets: Sequence[OutletTable],
        call_list: Sequence[CallListEntry],
        timings: Timings,
    ) -> None:
        self.outlets = tuple(outlets)
        self._tables = {table.name: table for table in outlets}
        self._later = {n for entry in call_list if entry.after_s > 0 for n in entry.call}
        self._timings = timings
        self.stages = _stages(call_list, timings)

    def at_once(self, call: tuple[str, ...] | None, priority: Priority) -> tuple[str, ...]:
        """Edge outlets told when it is raised, people and machines."""
        return self._fit(
            (
                name
                for name in self._tables
                if (call is None and not (name in self._later and self.is_person(name)))
                or (call is not None and name in call)
                or not self.is_person(name)
            ),
            priority,
        )

    def people(self, names: Iterable[str], priority: Priority) -> tuple[str, ...]:
        """Of these outlets, those where a person reads and this priority is wanted."""
        return self._fit((n for n in names if self.is_person(n)), priority)

    def people_at(
        self, call: tuple[str, ...] | None, priority: Priority, elapsed_s: float
    ) -> tuple[str, ...]:
        """Everybody who is called that long after an alarm began."""
        added = (n for s in self.stages if s.after_s <= elapsed_s for n in s.adds)
        return self.people(dict.fromkeys((*self.at_once(call, priority), *added)), priority)

    def machines(self, priority: Priority) -> tuple[str, ...]:
        """Edge outlets where a machine reads: they are told every transition."""
        return self._fit((n for n in self._tables if not self.is_person(n)), priority)

    def everybody(self) -> tuple[str, ...]:
        return tuple(n for n in self._tables if self.is_person(n))

    def is_person(self, name: str) -> bool:
        table = self._tables.get(name)
        return table is not None and table.sort == "edge" and table.reader == "person"

    def wants_cautions(self) -> tuple[str, ...]:
        return self.people(self._tables, Priority.CAUTION)

    def quiet_s(self, name: str, utc_s: float | None) -> float:
        """Seconds for which a person is still to be spared warnings and cautions; 0 when not, or
        when nobody knows the time: better one message too many."""
        table = self._tables.get(name)
        if table is None or table.quiet_hours is None or utc_s is None:
            return 0.0
        return table.quiet_hours.left_s(utc_s)

    def next_stage(self, done_s: float) -> Stage:
        """The stage after the one at `done_s`: the calls never stop by themselves."""
        for stage in self.stages:
            if stage.after_s > done_s:
                return stage
        last, again_s = self.stages[-1], self._timings.call_again_s
        return self._again(int((done_s - last.after_s) / again_s + 1e-6) + 1)

    def stage_at(self, elapsed_s: float) -> Stage | None:
        """The latest stage that was due by then; None before the first."""
        last = self.stages[-1]
        if elapsed_s >= last.after_s:
            times = int((elapsed_s - last.after_s) / self._timings.call_again_s + 1e-6)
            return last if times == 0 else self._again(times)
        due = [stage for stage in self.stages if stage.after_s <= elapsed_s]
        return due[-1] if due else None

    def _again(self, times: int) -> Stage:
        last = self.stages[-1]
        after_s = last.after_s + times * self._timings.call_again_s
        return Stage(after_s, min(9, last.level + times))

    def _fit(self, names: Iterable[str], priority: Priority) -> tuple[str, ...]:
        return tuple(
            name
            for name in names
            if (table := self._tables.get(name)) is not None
            and table.sort == "edge"
            and Priority.from_label(table.from_priority) <= priority
        )


def _stages(call_list: Sequence[CallListEntry], timings: Timings) -> tuple[Stage, ...]:
    """The fixed cadence with the call list's own times laid into it, in order."""
    fixed = {timings.second_call_s: 1, timings.stage_2_s: 2, timings.stage_3_s: 3}
    times = sorted({*fixed, *(entry.after_s for entry in call_list if entry.after_s > 0)})
    stages, level = [], 0
    for after_s in times:
        level = max(level, fixed.get(after_s, level))
        adds = tuple(n for entry in call_list if entry.after_s == after_s for n in entry.call)
        stages.append(Stage(after_s, level, adds))
    return tuple(stages)
