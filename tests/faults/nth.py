"""Campaign: the daemon killed at its n-th operation on the store's files, for every n.

    nice python -m tests.faults.nth [--from 1] [--every 1] [--how before torn after]

An operation is a write, sync, truncate, rename or unlink (tests/faults/disk.py). The play: a watch
is set, tanks go low one after the other, a person takes note, goes ashore, the boat drags, and the
watch ends. The daemon dies at operation n of it, is started again and the play goes on. Then what
was told must be so: what the person was answered stands, what the phone was told is in the journal;
what stood unanswered sounds within 5 s, without any data; the play ends as it would have without
the kill; no line and no raise is there twice; and every raise has come to the phone.
The short form is tests/faults/test_short.py.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

from demo import night
from tests.faults.aboard import WAITS, Aboard, Died, doubled, left, orders, told_on
from tests.faults.disk import How, counted, logged, operations
from tests.faults.kills import Left
from tests.live.boat import BUZZER, PHONE

SOUNDS_WITHIN_S = 5.0
TANKS = 4


@dataclass
class Told:
    """What the person was told, and so must be kept."""

    steps: int = 0  # of the play that are done
    armed: bool = False
    ashore: bool = False
    noted: list[str] = field(default_factory=list)  # alerts


@dataclass
class Tally:
    """What a campaign came to."""

    kills: int = 0
    stood: int = 0  # alerts unanswered at the kill
    slowest_s: float = 0.0
    raised: int = 0
    wrong: list[str] = field(default_factory=list)


class Play:
    """The play on one boat, which may be cut off anywhere by Died and gone on with."""

    def __init__(self, folder: Path) -> None:
        self.aboard = Aboard(folder, orders(BUZZER, PHONE, tanks=TANKS), TANKS)
        self.told = Told()
        self._steps = (
            self._anchor, self._low(1), self._note("tank-1"), self._low(2), self._ashore,
            self._note("tank-2"), self._full(1), self._drift, self._note("drag"), self._low(3),
        )  # fmt: skip

    def go_on(self) -> None:
        """To its end. Raises Died."""
        for step in self._steps[self.told.steps :]:
            step()
            self.told.steps += 1

    def _anchor(self) -> None:
        if self.aboard.anchor()["code"] == 0:
            self.told.armed = True

    def _low(self, number: int) -> Callable[[], None]:
        def step() -> None:
            self.aboard.low.add(number)
            self.aboard.feed(4)
            self.aboard.sounded(number)

        return step

    def _note(self, alert: str) -> Callable[[], None]:
        def step() -> None:
            # It was heard before it was kept: after a kill in between it has to come anew.
            row = self.aboard.until(lambda: self.aboard.standing(alert), fed=True)
            if row["state"] == "active-acknowledged":
                return  # kept, and the answer was lost
            if self.aboard.say("ack", id=alert)["code"] == 0:
                self.told.noted.append(alert)

        return step

    def _ashore(self) -> None:
        if self.aboard.say("crew", where="ashore")["code"] == 0:
            self.told.ashore = True

    def _full(self, number: int) -> Callable[[], None]:
        return lambda: self.aboard.fill(number)

    def _drift(self) -> None:
        for _ in range(4):
            self.aboard.north_m = min(200.0, self.aboard.north_m + 50.0)
            self.aboard.feed(1)
        self.aboard.feed(8)
        self.aboard.until(lambda: self.aboard.standing("drag"), fed=True)


def killed_at(number: int, how: How, tally: Tally) -> bool:
    """One play with its kill; False when it was over before that operation."""
    with tempfile.TemporaryDirectory(prefix="shipkeeper-nth-") as name:
        play = Play(Path(name))
        try:
            return _played(play, number, how, tally)
        finally:
            play.aboard.close()


def _played(play: Play, number: int, how: How, tally: Tally) -> bool:
    aboard, where = play.aboard, f"operation {number}, {how}"
    aboard.boat.state.mkdir()
    try:
        aboard.start(**counted(aboard.boat.state, number, how))
        play.go_on()
        if aboard.stop() == 0:
            return False
    except Died:
        pass
    tally.kills += 1
    before = left(aboard.boat.state)
    aboard.start()
    try:
        _look(play, before, where, tally)
        play.go_on()
        # The last one was heard before it was kept, as all are: it comes anew with the data.
        aboard.until(lambda: aboard.standing("tank-3"), fed=True)
        aboard.until(lambda: (now := left(aboard.boat.state)) is not None and not now.owed)
        if aboard.stop() != 0:
            tally.wrong.append(f"{where}: the second run did not end well")
    except (Died, TimeoutError) as error:
        tally.wrong.append(f"{where}: the second run: {error!r}")
    _reckon(play, where, tally)
    return True


def _look(play: Play, before: Left | None, where: str, tally: Tally) -> None:
    """After the restart, before any data."""
    aboard, told, wrong = play.aboard, play.told, tally.wrong
    unanswered = before.unanswered() if before is not None else {}
    tally.stood += len(unanswered)
    assert aboard.daemon is not None
    if unanswered:
        took_s = aboard.daemon.says("buzzer  .", 20.0) - aboard.daemon.began_s
        tally.slowest_s = max(tally.slowest_s, took_s)
        if took_s > SOUNDS_WITHIN_S:
            load = os.getloadavg()[0]
            wrong.append(f"{where}: silent for {took_s:.1f} s, load {load:.1f}")
    status = aboard.state()
    states = {row["id"]: row["state"] for row in aboard.say("alerts")["data"]["alerts"]}
    mark = status["mark"]
    if told.armed and (
        status["watch"] != "anchored" or mark is None or abs(mark["lat"] - night.ANCHOR.lat) > 1e-6
    ):
        wrong.append(f"{where}: watch or mark: {status['watch']}, {mark}")
    if told.ashore and status["crew"] != "ashore":
        wrong.append(f"{where}: the crew is {status['crew']}")
    for alert in unanswered:
        if states.get(alert) not in WAITS:
            wrong.append(f"{where}: {alert} stood unanswered, now {states.get(alert)}")
    for alert in told.noted:
        full = alert == "tank-1" and told.steps >= 6  # she may be full again by then
        if states.get(alert) != "active-acknowledged" and not (full and alert not in states):
            wrong.append(f"{where}: {alert} was acknowledged, now {states.get(alert)}")
    if before is not None:
        single, listed = told_on(aboard.pushed())
        kept = {row["alert"] for row in before.journal if row["reason"] == "condition"}
        if len(single | listed) > len(kept):
            wrong.append(f"{where}: the phone was told {single | listed}, kept are {kept}")
    elif aboard.pushed():
        wrong.append(f"{where}: the phone was told, and nothing is kept")
    odd = [p.name for p in aboard.boat.state.iterdir() if "damaged" in p.name or "unread" in p.name]
    if odd:
        wrong.append(f"{where}: {odd}")


def _reckon(play: Play, where: str, tally: Tally) -> None:
    """At the end of the play."""
    now = left(play.aboard.boat.state)
    if now is None:
        tally.wrong.append(f"{where}: no store at the end")
        return
    tally.wrong += [f"{where}: twice: {what}" for what in doubled(now.journal)]
    raised = [row for row in now.journal if row["reason"] == "condition"
              and row["to"] == "active-unacknowledged"]  # fmt: skip
    names = sorted(row["alert"] for row in raised)
    if [name for name in names if name != "feed-boat"] != ["drag", "tank-1", "tank-2", "tank-3"]:
        tally.wrong.append(f"{where}: raised at the end: {names}")
    tally.raised += len(raised)
    single, listed = told_on(play.aboard.pushed())
    if len(single | listed) < len(raised):
        tally.wrong.append(f"{where}: raised {names}, the phone was told {single | listed}")


def count() -> int:
    """Operations of a whole play."""
    with tempfile.TemporaryDirectory(prefix="shipkeeper-nth-") as name:
        play = Play(Path(name))
        log, state = Path(name) / "operations", play.aboard.boat.state
        state.mkdir()
        try:
            play.aboard.start(**logged(state, log))
            play.go_on()
            play.aboard.stop()
        finally:
            play.aboard.close()
        return len(operations(log, state))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--from", type=int, default=1, dest="first")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--how", nargs="+", default=["before", "torn"])
    chosen = parser.parse_args()
    print(f"{count()} operations in a whole play", flush=True)
    tally, number, began = Tally(), chosen.first, time.monotonic()
    lived = 0
    while lived < 3:  # threads make a play some operations longer or shorter
        how = chosen.how[number // chosen.every % len(chosen.how)]
        lived = 0 if killed_at(number, how, tally) else lived + 1
        if tally.kills % 20 == 0:
            print(f"{time.monotonic() - began:6.0f} s  operation {number}  {tally}", flush=True)
        number += chosen.every
    print(f"{time.monotonic() - began:6.0f} s  to operation {number}  {tally}")
    for what in tally.wrong:
        print(f"WRONG  {what}")
    return 1 if tally.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
