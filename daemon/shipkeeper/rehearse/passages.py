"""Which recordings belong together: passages, each of which one engine runs through.

Files of several receivers overlap in time and are one passage. A file that goes on where the
last one ended is the same passage. A file with which a daemon began a run begins one, with the
orders and the remembered alerts in its header; so does a night that comes after a gap.
Passages do not depend on each other, so they are what is spread over cores; and they are told
by the recordings alone, so that the result is the same wherever they are run.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

import msgspec

from ..words.orders import Orders
from .recording import Header, Recording

GAP_S = 1800.0  # longer without a line, in files without header: another night


class Passage(msgspec.Struct, frozen=True):
    """Files that one engine runs through."""

    paths: tuple[Path, ...]
    header: Header | None
    bytes: int
    sources: frozenset[str] = frozenset()

    def fitted(self, orders: Orders) -> Orders:
        """For a log by another recorder that names none of the orders' inputs: the same orders
        expecting none of them, or all would be told of as silent."""
        names = {table.name for table in orders.inputs}
        if self.header is not None or not names or names & self.sources:
            return orders
        return msgspec.structs.replace(orders, inputs=())

    @property
    def name(self) -> str:
        first = self.paths[0].name
        return first if len(self.paths) == 1 else f"{first} and {len(self.paths) - 1} more"


def passages(recordings: Sequence[Recording]) -> list[Passage]:
    """In order of time. Raises ValueError when there is nothing to rehearse in a file."""
    begun = []
    for recording in recordings:
        first_s = recording.first_s()
        if first_s is None:
            if recording.header is None:
                raise ValueError(f"{recording.path.name}: no sentence in it")
            first_s = recording.header.started_s
        begun.append((first_s, recording))
    begun.sort(key=lambda item: item[0])
    return [_passage(group) for group in _groups(begun)]


def _groups(begun: Sequence[tuple[float, Recording]]) -> Iterator[list[Recording]]:
    group: list[Recording] = []
    ends_s = float("-inf")
    for index, (first_s, recording) in enumerate(begun):
        header = recording.header
        fresh = header.begins_run if header is not None else first_s > ends_s + GAP_S
        if group and fresh:
            yield group
            group, ends_s = [], float("-inf")
        group.append(recording)
        last_one = index == len(begun) - 1
        if not last_one and begun[index + 1][1].header is None:
            ends_s = max(ends_s, recording.last_s() or first_s)
    if group:
        yield group


def _passage(group: Sequence[Recording]) -> Passage:
    header = next((r.header for r in group if r.header is not None), None)
    sources = frozenset(name for r in group for name in r.sources)
    return Passage(tuple(r.path for r in group), header, sum(r.bytes for r in group), sources)
