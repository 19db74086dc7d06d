"""Campaign: a thousand alarms through all the faults at once. None is lost, each sounds on time.

    nice python -m tests.faults.thousand [--alarms 1000] [--each 20] [--seed 1]

One boat, one state folder, the real daemon with buzzer, push, syslog and a real broker, each behind
a go-between. Every 20 alarms the faults change, drawn by lot: a way out hangs, refuses, drips or
loses its answer; the disk is full, read-only, broken or slow; a worker raises; the daemon is killed
and started again; or nothing is wrong. At the end all is well again, and every alarm must stand in
the journal, once, and have come to phone, log and broker; but for what a log's machine
acknowledged and never read before a kill, which is counted.
"""

from __future__ import annotations

import argparse
import errno
import os
import random
import re
import statistics
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from tests.faults.aboard import ON_TIME_S, Died, doubled, left
from tests.faults.disk import sick
from tests.faults.inside import WORKERS
from tests.faults.ways import SPOILT, WAYS, Three
from tests.live.boat import ROOT

TANKS = 40
APART_S = 30.0  # of the feed, between two alarms: each tank has twenty minutes to itself
AT_LAST_WITHIN_S = 240.0
DISK = {"full": errno.ENOSPC, "read-only": errno.EROFS, "broken": errno.EIO}


class Faults:
    """What may be wrong with this boat, one or two at a time."""

    def __init__(self, three: Three, folder: Path, dice: random.Random) -> None:
        self.three, self.dice = three, dice
        self.unruly = folder / "unruly"
        self.unruly.mkdir()
        three.aboard.boat.state.mkdir()
        self.disk = sick(three.aboard.boat.state, folder)
        three.aboard.boat.program = [sys.executable, "-m", "tests.faults.unruly"]
        three.aboard.environment = {
            **self.disk.environment, "UNRULY": str(self.unruly),
            "PYTHONPATH": f"{ROOT}:{ROOT}/daemon",
        }  # fmt: skip
        self.kills = 0
        self.spoilt: set[str] = set()  # ways out

    def draw(self) -> str:
        """Another fault; the one before is over."""
        self.well()
        draws: list[Callable[[], str]] = [self._way, self._way, self._disk, self._worker,
                                          self._kill, self._nothing]  # fmt: skip
        return self.dice.choice(draws)()

    def well(self) -> None:
        self.disk.well()
        for way in self.spoilt:
            self.three.between[way].turn("pass")
        self.spoilt.clear()

    def _way(self) -> str:
        way, manner = self.dice.choice(WAYS), self.dice.choice(SPOILT)
        self.spoilt.add(way)
        self.three.between[way].turn(manner)
        return f"{way} {manner}"

    def _disk(self) -> str:
        how = self.dice.choice([*DISK, "slow"])
        if how == "slow":
            self.disk.stalls(3.0)
        else:
            self.disk.fails(DISK[how])
        return f"disk {how}"

    def _worker(self) -> str:
        names = [name for name in WORKERS if name not in ("recorder", "watchdog", "outlet buzzer")]
        name = self.dice.choice([*names, "store", "store"])
        name = name.replace("skipper", "push").replace("outlet log", "outlet syslog")
        (self.unruly / name.replace(" ", "-")).touch()
        return f"worker {name}"

    def _kill(self) -> str:
        aboard = self.three.aboard
        # What a person was not told is kept must not be asked for after a kill: wait for that.
        aboard.until(lambda: aboard.state()["daemon"]["store_ok"], fed=True)
        aboard.kill()
        aboard.start()
        aboard.until(lambda: aboard.boat.server.clients)  # the start itself is timed elsewhere
        self.kills += 1
        return "killed"

    @staticmethod
    def _nothing() -> str:
        return "nothing"


def thousand(alarms: int, each: int, seed: int) -> int:
    dice, began_s = random.Random(seed), time.monotonic()
    sounds: list[float] = []
    wrong: list[str] = []
    kinds: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(prefix="shipkeeper-thousand-") as name:
        three = Three(Path(name))
        aboard = three.aboard
        faults = Faults(three, Path(name), dice)
        try:
            aboard.start()
            aboard.anchor()
            fault, faults_by_alarm = "nothing", list[str]()
            reached = set[int]()
            for number in range(alarms):
                if number % each == 0 and number:
                    if has_come(three, number - 1):
                        reached.add(number - each)
                    fault = faults.draw()
                    kinds[fault] += 1
                faults_by_alarm.append(fault)
                tank = number % TANKS + 1
                aboard.utc_s += APART_S
                try:
                    took_s = aboard.lower(tank)
                    sounds.append(took_s)
                    # A wire whose reader raised is heard again after a second's pause.
                    most_s = ON_TIME_S + 3.0 * fault.startswith("worker input")
                    if took_s > most_s:
                        load = os.getloadavg()[0]
                        wrong.append(
                            f"{fault}: alarm {number} after {took_s:.1f} s, load {load:.1f}"
                        )
                    aboard.answered(tank)
                    aboard.fill(tank)
                except (TimeoutError, Died) as error:
                    wrong.append(f"{fault}: alarm {number}: {error!r}"[:600])
                    if not aboard.alive:
                        aboard.start()
                if (number + 1) % 100 == 0:
                    print(
                        f"{time.monotonic() - began_s:6.0f} s  {number + 1} alarms, the slowest "
                        f"sound after {max(sounds):.2f} s, {len(wrong)} wrong",
                        flush=True,
                    )
            faults.well()
            wrong += settled(three, alarms, in_doubt(faults_by_alarm, each, reached))
            print(f"faults: {dict(sorted(kinds.items()))}")
        finally:
            three.close()
    print(f"{time.monotonic() - began_s:.0f} s: {alarms} alarms; sound after "
          f"{statistics.median(sounds):.3f} s in the middle, {max(sounds):.2f} s at most; "
          f"{faults.kills} kills; {len(wrong)} things wrong")  # fmt: skip
    for what in wrong:
        print(f"WRONG  {what}")
    return 1 if wrong else 0


def in_doubt(faults_by_alarm: list[str], each: int, reached: set[int]) -> set[int]:
    """Alarms told to a log whose machine acknowledges and never reads, when the daemon was killed
    before it could find that out: both ends forget, and nothing in plain syslog tells of it. It
    finds out when the next message goes: `reached` are the turns, by their first alarm, at whose
    end the newest had come to the log, and so all before it."""
    doubted: set[int] = set()
    spoilt: set[int] = set()  # those told to such logs up to here
    for number in range(0, len(faults_by_alarm), each):
        fault = faults_by_alarm[number]
        if fault.startswith("syslog"):
            spoilt.update(range(number, min(number + each, len(faults_by_alarm))))
            continue
        if fault == "killed":
            doubted |= spoilt
        if fault == "killed" or number in reached:
            spoilt.clear()
    return doubted


def has_come(three: Three, number: int) -> bool:
    """Whether that alarm is in the log by now."""
    told = three.heard("syslog", number % TANKS + 1)
    return any(int(one.split("/")[1]) == number // TANKS + 1 for one in told)


def settled(three: Three, alarms: int, doubted: set[int]) -> list[str]:
    """When all is well again: everything is in the journal and has come everywhere."""
    aboard, wrong = three.aboard, []
    # A line that broke is found when the next message is to go.
    aboard.utc_s += 120.0
    aboard.raised(TANKS)
    aboard.answered(TANKS)

    def paid() -> bool:
        aboard.pushed()
        now = left(aboard.boat.state)
        return now is not None and not now.everything_owed

    try:
        aboard.until(paid, AT_LAST_WITHIN_S, fed=True)
    except TimeoutError:
        wrong.append("something is owed still")
    now = left(aboard.boat.state)
    assert now is not None
    wrong += [f"twice: {what}" for what in doubled(now.journal, raises=False)]
    raised = {
        (row["alert"], row["at"][:19])
        for row in now.journal
        if row["alert"].startswith("tank-") and row["reason"] == "condition"
        and row["to"] == "active-unacknowledged"
    }  # fmt: skip
    if len(raised) < alarms + 1:
        wrong.append(f"{alarms + 1} alarms, in the journal are {len(raised)}")
    in_order = sorted(raised, key=lambda one: one[1])
    for way, (got, counted) in came(three).items():
        missing = raised - got
        if way == "syslog":
            lost = missing & {one for n, one in enumerate(in_order) if n in doubted}
            print(f"{len(doubted)} were told to a log that lied before a kill, {len(lost)} of them "
                  f"are not in it")  # fmt: skip
            missing -= lost
        if len(missing) > counted:
            wrong.append(f"{len(missing)} raises never came by {way}: {sorted(missing)[:5]}")
    return wrong


Raises = set[tuple[str, str]]  # alert, and when it was raised


def came(three: Three) -> dict[str, tuple[Raises, int]]:
    """Way -> what came out there as raised, and how many were only counted in a list."""
    three.heard("syslog", 1)
    log = re.compile(r">1 (\S{19})\S* .* id=\"([^\"]*)\".* event=\"raised\"")
    lines = [found for found in map(log.search, three.logged) if found is not None]
    told = [one for one in three.events() if one["event"] == "raised"]
    by_number: dict[tuple[str, str], Raises] = {}
    for one in told:
        key = (str(one["number"]), str(one["occurrence"]))
        by_number.setdefault(key, set()).add((one["alert"], one["at"][:19]))
    push = "\n".join(f"{m['title']}\n{m['message']}" for m in three.aboard.pushed())
    single = re.findall(r"^ref (\d+)\.(\d+) raised", push, re.MULTILINE)
    listed = re.findall(r"^\d\d:\d\d.* ref (\d+)\.(\d+)$", push, re.MULTILINE)
    counted = sum(map(int, re.findall(r"^(\d+) less urgent ones", push, re.MULTILINE)))
    pushed: Raises = set().union(*(by_number.get(ref, set()) for ref in (*single, *listed)))
    return {
        "syslog": ({(found[2], found[1]) for found in lines}, 0),
        "mqtt": ({(one["alert"], one["at"][:19]) for one in told}, 0),
        "push": (pushed, counted),
    }


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--alarms", type=int, default=1000)
    parser.add_argument("--each", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    return thousand(chosen.alarms, chosen.each, chosen.seed)


if __name__ == "__main__":
    sys.exit(main())
