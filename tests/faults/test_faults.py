"""The table of faults against the real daemon: half on ptys, half on sockets, in turn.

All of it on both: python -m tests.faults.run
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from tests.faults.rig import Fault, Kind, Rig, faults

FAULTS = faults()
KINDS: tuple[Kind, ...] = ("sockets", "ptys")


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Callable[[Kind, str], Rig]]:
    """Boats by kind of wire and number of receivers; each starts its daemon once."""
    made: dict[tuple[Kind, str], Rig] = {}

    def of(kind: Kind, boat: str) -> Rig:
        if (kind, boat) not in made:
            folder: Path = tmp_path_factory.mktemp(f"{kind}-{boat}")
            made[kind, boat] = Rig(folder, kind, boat)
            made[kind, boat].start()
        return made[kind, boat]

    yield of
    for one in made.values():
        one.close()


def test_the_table_has_at_least_forty() -> None:
    """Each with a name of its own, and with what must or must not come of it."""
    assert len(FAULTS) >= 40
    assert len({fault.name for fault in FAULTS}) == len(FAULTS)
    assert all(fault.must or fault.must_not for fault in FAULTS)


@pytest.mark.parametrize(
    ("index", "fault"), list(enumerate(FAULTS)), ids=[fault.name for fault in FAULTS]
)
def test_fault(index: int, fault: Fault, rig: Callable[[Kind, str], Rig]) -> None:
    """What the row says, on time, and nothing else."""
    assert rig(KINDS[index % 2], fault.boat).play(fault) == []
