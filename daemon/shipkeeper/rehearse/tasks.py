"""One passage under one set of orders, as a task that can be sent to another core or machine."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec

from ..words.events import Event
from ..words.orders import Orders
from .recording import Recording, merged
from .rehearsal import Rehearsal, Start
from .told import Outcome

REPORT_EVERY = 5000  # lines between two words on progress


class Task(msgspec.Struct, frozen=True):
    """What is to be run. Everything in it is plain data; the files are opened where it runs."""

    paths: tuple[Path, ...]
    orders: Orders
    start: Start
    bytes: int = 0


def perform(task: Task, progress: Callable[[int], None] | None = None) -> Outcome:
    """Run it here. `progress` is told now and then how many bytes of its files have been read."""
    # What stands before stays: the collector need not look at all of it again and again.
    gc.freeze()
    try:
        return _run(task, progress)
    finally:
        gc.unfreeze()


def _run(task: Task, progress: Callable[[int], None] | None) -> Outcome:
    recordings = [Recording(path) for path in task.paths]
    header = next((r.header for r in recordings if r.header is not None), None)
    rehearsal = Rehearsal(task.orders, task.start, header)
    events = merged(recordings)
    if progress is not None:
        events = _counted(events, recordings, progress)
    told = tuple(rehearsal.run(events))
    first_s = rehearsal.first_s if rehearsal.first_s is not None else 0.0
    return Outcome(
        told=told,
        first_s=first_s,
        last_s=rehearsal.last_s if rehearsal.last_s is not None else first_s,
        lines=rehearsal.lines,
        lon=rehearsal.lon,
        torn=tuple(r.path.name for r in recordings if r.torn),
        not_watched=rehearsal.not_watched,
    )


def _counted(
    events: Iterator[Event], recordings: list[Recording], progress: Callable[[int], None]
) -> Iterator[Event]:
    for count, event in enumerate(events):
        if not count % REPORT_EVERY:
            progress(sum(r.read_bytes for r in recordings))
        yield event
    progress(sum(r.bytes for r in recordings))
