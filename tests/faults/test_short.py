"""Short forms of the campaigns on faults of the machine, with the real daemon.

All of each by hand: python -m tests.faults.nth, cuts, disks, ways, outage, inside, flood, thousand
"""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from tests.faults import cuts, disks, flood, inside, nth, outage, ways
from tests.faults.disk import How

LIMITS = ("ON_TIME_S", "SOUNDS_WITHIN_S", "PUSHED_WITHIN_S", "TOLD_WITHIN_S", "BACK_WITHIN_S",
          "OTHERS_WITHIN_S", "PUSH_WITHIN_S", "SOUND_S")  # fmt: skip
BUSY = 5.0


@pytest.fixture(autouse=True)
def _any_machine(monkeypatch: pytest.MonkeyPatch) -> None:
    """Here is proved what happens; when, the campaigns prove by hand on a machine that is calm."""
    for module in (disks, flood, inside, nth, ways):
        for name in LIMITS:
            if hasattr(module, name):
                monkeypatch.setattr(module, name, BUSY * getattr(module, name))
    monkeypatch.setattr(flood, "LEAST_OFFERED", 0.0)


@pytest.mark.parametrize(("number", "how"), [(181, "torn")])
def test_killed_at_an_operation_of_the_store(number: int, how: How) -> None:
    """Nothing told is lost, nothing is there twice, what stood sounds again."""
    tally = nth.Tally()
    assert nth.killed_at(number, how, tally)
    assert tally.wrong == []


def test_the_power_is_cut_at_any_moment(tmp_path: Path) -> None:
    """Each folder that a dying machine leaves starts with all that was told; also where the
    log goes over into the file."""
    night_ = cuts.played(tmp_path, 5, seed=1)
    dice, tally = random.Random(3), cuts.Tally()
    for done, number in enumerate(cuts.moments(night_.ops, 3, dice), start=1):
        cuts.cut(night_, number, done == 3, dice, tally)
    assert tally.wrong == []
    assert tally.cuts == 3 and tally.kept > 0


@pytest.mark.parametrize(
    "row", [disks.full, disks.read_only_at_the_start, disks.damaged_in_the_watch]
)
def test_a_sick_disk(row: disks.Row) -> None:
    """Alarms sound on time and reach the phone, it is told, and later all of it is kept."""
    assert disks.play(row).wrong == []


def test_ways_out_that_hang_refuse_and_lose(tmp_path: Path) -> None:
    """All three at once, each in its own manner: the sound is on time, and each gets all."""
    assert ways.short(tmp_path).wrong == []


def test_a_day_without_a_link() -> None:
    """At most three pushes, dated and late, when it is back; the outbox began anew meanwhile."""
    told = outage.outage(60, 0.005, restarted=True)
    assert told.wrong == []


def test_parts_that_raise() -> None:
    """The store's: told, started again, no alarm late or lost."""
    told = inside.Told()
    with inside.unruly() as (boat, folder):
        boat.start()
        boat.anchor()
        inside.worker("store", 1, boat, folder, told)
    assert told.wrong == []


def test_an_engine_that_stands_is_started_again() -> None:
    """No sign of life goes out, and within 15 s the alarm sounds again."""
    told = inside.Told()
    inside.engine_stands(told)
    assert told.wrong == []


def test_a_flood() -> None:
    """50 times what comes in at most: alarms and a ship that turns at us are heard."""
    told = inside.Told()
    flood.flood(told, seconds=3.0)
    assert told.wrong == []
