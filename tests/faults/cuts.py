"""Campaign: the power cut at any moment of a night, as the disk of a dying machine is left.

    nice python -m tests.faults.cuts [--cuts 200] [--tanks 40] [--seed 1]

One night is played with every operation on the state folder written down (tests/faults/disk.py).
Then the folder is made again as it was at 200 moments of it, half of them anywhere, half where the
log goes over into the file: what was synced is there, of the rest any part, torn by sectors, some
of them noise. On each the real daemon is started and asked, before any data: what the person was
answered and the phone was told up to that moment must be so, what stood unanswered must sound, and
nothing may be found damaged. One cut in eight also loses the end of the log or has noise there,
synced or not, as a disk does that lied: then the daemon starts and is consistent all the same.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from demo import night
from tests.faults.aboard import WAITS, aboard, doubled, left, orders, told_on
from tests.faults.disk import Operation, as_left, logged, operations
from tests.faults.kills import Left
from tests.live.boat import BUZZER, FEED_CLOCK, PHONE, Boat

DB, WAL = "shipkeeper.db", "shipkeeper.db-wal"
AFTER_S = 0.001  # an answer that came within that time of the operation is in doubt
LIAR = 8


@dataclass
class Night:
    """What was played. Times by time.monotonic()."""

    tanks: int
    ops: list[Operation]
    armed_s: float
    noted: list[tuple[str, float, float]]  # alert, from when to when it is known to be so
    got: list[dict[str, Any]]


@dataclass
class Tally:
    """What a campaign came to."""

    cuts: int = 0
    lied: int = 0
    in_checkpoint: int = 0
    stood: int = 0  # alerts unanswered
    kept: int = 0  # acknowledgements looked for and found
    told: int = 0  # raises that the phone had, looked for and found
    slowest_s: float = 0.0
    set_aside: int = 0  # of those with a disk that lied
    wrong: list[str] = field(default_factory=list)


def played(folder: Path, tanks: int, seed: int) -> Night:
    """A night of so many alarms, most of them answered, some of which are over."""
    dice, noted = random.Random(seed), []
    with aboard(folder, BUZZER, PHONE, tanks=tanks) as boat:
        state, log = boat.boat.state, folder / "operations"
        state.mkdir()
        boat.start(*FEED_CLOCK, **logged(state, log))
        assert boat.anchor()["code"] == 0
        armed_s = time.monotonic()
        for number in range(1, tanks + 1):
            boat.raised(number)
            if dice.random() < 0.2:
                continue
            assert boat.answered(number)
            from_s = time.monotonic()
            if dice.random() < 0.7:
                until_s = time.monotonic()
                boat.fill(number)
            else:
                until_s = float("inf")
            noted.append((f"tank-{number}", from_s, until_s))
        boat.until(lambda: (now := left(state)) is not None and not now.owed, 120.0)
        boat.kill()
        return Night(tanks, operations(log, state), armed_s, noted, list(boat.pushed()))


def moments(ops: Sequence[Operation], count: int, dice: random.Random) -> list[int]:
    """Numbers of operations: the cut is in the midst of it."""
    over = [n for n, op in enumerate(ops) if op.name == DB] or [len(ops) - 1]
    return [
        dice.choice(over) if number % 2 else dice.randrange(len(ops)) for number in range(count)
    ]


def cut(night_: Night, number: int, lies: bool, dice: random.Random, tally: Tally) -> None:
    """One power cut, and the start after it."""
    op = night_.ops[number]
    where = f"cut at operation {number} ({op.kind} {op.name}){', a disk that lied' if lies else ''}"
    tally.cuts, tally.lied = tally.cuts + 1, tally.lied + lies
    tally.in_checkpoint += op.name == DB
    with tempfile.TemporaryDirectory(prefix="shipkeeper-cuts-") as name:
        boat = Boat(Path(name), orders(BUZZER, PHONE, tanks=night_.tanks))
        as_left(night_.ops[: number + 1], boat.state, dice)
        boat.state.mkdir(exist_ok=True)
        if lies:
            spoil(boat.state / WAL, dice)
        try:
            before = left(boat.state)
            _look(boat, before, night_, op.at_s, lies, where, tally)
        except (AssertionError, TimeoutError, ValueError) as error:
            tally.wrong.append(f"{where}: {error!r}")
        finally:
            boat.__exit__()


def spoil(log: Path, dice: random.Random) -> None:
    """The end of the log is cut off, or noise."""
    if not log.exists():
        return
    raw = log.read_bytes()
    at = dice.randrange(len(raw) // 2, len(raw) + 1) if raw else 0
    log.write_bytes(raw[:at] + dice.randbytes(dice.choice((0, 100, len(raw) - at))))


def _look(
    boat: Boat,
    before: Left | None,
    night_: Night,
    at_s: float,
    lies: bool,
    where: str,
    tally: Tally,
) -> None:
    unanswered = before.unanswered() if before is not None else {}
    with boat.watch(*FEED_CLOCK) as daemon:
        daemon.says("watches for")
        if unanswered:
            took_s = daemon.says("buzzer  .") - daemon.began_s
            tally.slowest_s = max(tally.slowest_s, took_s)
            tally.stood += len(unanswered)
        status = boat.ask("status")
        states = {row["id"]: row["state"] for row in boat.ask("alerts")["alerts"]}
        assert daemon.stop() == 0
    tally.wrong += [f"{where}: {alert} stood unanswered, is {states.get(alert)}"
                    for alert in unanswered if states.get(alert) not in WAITS]  # fmt: skip
    asides = [p.name for p in boat.state.iterdir() if ".damaged-" in p.name]
    after = left(boat.state)
    if after is None:
        tally.wrong.append(f"{where}: no store after the start")
        return
    tally.wrong += [f"{where}: twice: {what}" for what in doubled(after.journal)]
    if lies:
        tally.set_aside += bool(asides)
        return
    if asides:
        tally.wrong.append(f"{where}: found damaged: {asides}")
    mark = status["mark"]
    if night_.armed_s < at_s - AFTER_S and (
        status["watch"] != "anchored" or abs(mark["lat"] - night.ANCHOR.lat) > 1e-6
    ):
        tally.wrong.append(f"{where}: watch or mark: {status['watch']}, {mark}")
    for alert, from_s, until_s in night_.noted:
        if from_s < at_s - AFTER_S and at_s < until_s:
            tally.kept += 1
            if states.get(alert) != "active-acknowledged":
                tally.wrong.append(f"{where}: {alert} was acknowledged, is {states.get(alert)}")
    single, listed = told_on([one for one in night_.got if one["came_s"] < at_s - AFTER_S])
    raised = [row for row in after.journal if row["reason"] == "condition"
              and row["to"] == "active-unacknowledged"]  # fmt: skip
    tally.told += len(single | listed)
    if len(single | listed) > len(raised):
        tally.wrong.append(f"{where}: the phone was told {len(single | listed)}, "
                           f"in the journal are {len(raised)}")  # fmt: skip


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cuts", type=int, default=200)
    parser.add_argument("--tanks", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    tally = campaign(chosen.cuts, chosen.tanks, chosen.seed)
    for what in tally.wrong:
        print(f"WRONG  {what}")
    return 1 if tally.wrong else 0


def campaign(cuts: int, tanks: int, seed: int) -> Tally:
    """A night and so many cuts of it."""
    dice, tally, began = random.Random(seed), Tally(), time.monotonic()
    with tempfile.TemporaryDirectory(prefix="shipkeeper-cuts-") as name:
        night_ = played(Path(name), tanks, seed)
    print(f"{time.monotonic() - began:6.0f} s  a night of {len(night_.ops)} operations", flush=True)
    for done, number in enumerate(moments(night_.ops, cuts, dice), start=1):
        cut(night_, number, done % LIAR == 0, dice, tally)
        if done % 20 == 0 or done == cuts:
            print(f"{time.monotonic() - began:6.0f} s  {tally}", flush=True)
    return tally


if __name__ == "__main__":
    sys.exit(main())
