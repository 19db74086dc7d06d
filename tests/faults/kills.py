"""Campaign: `kill -9` of the daemon at random moments of the demo's night; what must not be lost.

    nice python -m tests.faults.kills [--kills 200] [--a-night 20] [--seed 1] [--pace 330]

Half of the moments fall anywhere in the night, half where something happens in it; at half of
them a person is just then acknowledging; and the phone's service is out of order now and then.
What is asked for is told from outside: what the buzzer was heard to say, what the person was
answered, what the phone got, and (once the process is dead) what a copy of its files holds.

After each restart, before any data: every alert that stood unacknowledged stands so again and
the buzzer sounds within 5 s of the start, watch and mark are there, and no acknowledgement that
a person was told of has gone. At the end of each night every message owed at any kill, and every
raise in the journal, has reached the phone. The short form is in tests/live/test_night.py.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import random
import re
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from demo import night
from demo.sentences import tagged
from tests.live.boat import FEED_CLOCK, ROOT, SHIPKEEPER, Boat, Daemon, drained
from tests.live.test_night import orders_of_the_night

SLICE_S = 5.0
SETTLE_S = 240.0
SOUNDS_WITHIN_S = 5.0
MARGIN_S = 600.0
UNANSWERED = ("active-unacknowledged", "active-silenced")
RAISED = ("condition", "worse")
SOUNDING = ("warning", "alarm", "emergency alarm")


@dataclass
class Tally:
    """What a campaign came to."""

    kills: int = 0
    stood: int = 0  # alerts unanswered at a kill, summed up
    acknowledged: int = 0  # answers that a person was given
    midway: int = 0  # kills while an answer was on its way
    owed: int = 0  # messages in the outbox at a kill, summed up
    raised: int = 0
    pushed: int = 0
    slowest_s: float = 0.0
    lost: list[str] = field(default_factory=list)


class Left:
    """What the killed daemon's files hold, read from a copy."""

    def __init__(self, state: Path) -> None:
        with tempfile.TemporaryDirectory() as folder:
            for path in state.glob("shipkeeper.db*"):
                shutil.copy(path, folder)
            with contextlib.closing(sqlite3.connect(Path(folder) / "shipkeeper.db")) as db:
                rows = db.execute(
                    "SELECT line FROM journal WHERE kind = 'transition' ORDER BY number"
                )
                self.journal: list[dict[str, Any]] = [json.loads(line) for (line,) in rows]
                owed = db.execute("SELECT message FROM outbox WHERE outlet = 'skipper'")
                self.owed: list[dict[str, Any]] = [json.loads(message) for (message,) in owed]
                (self.everything_owed,) = db.execute("SELECT count(*) FROM outbox").fetchone()

    def unanswered(self) -> dict[str, str]:
        """Alert -> priority, of those that wait for an answer."""
        last = {row["alert"]: row for row in self.journal}
        return {
            name: row["priority"]
            for name, row in last.items()
            if row["to"] in UNANSWERED and row["priority"] in SOUNDING
        }

    def answers(self, alert: str) -> int:
        return sum(row["alert"] == alert and row["reason"] == "acknowledge" for row in self.journal)


class Feed:
    """The night's sentences on both wires; stands still while nobody listens."""

    def __init__(self, boat: Boat, pace: float) -> None:
        self._boat, self._pace = boat, pace
        self._heard = night.night()
        self._index = 0

    @property
    def over(self) -> bool:
        return self._index >= len(self._heard)

    def until(self, to_s: float) -> None:
        """Play on up to that second of the night."""
        if self.over:
            return
        began, start_s = time.monotonic(), self._heard[self._index].utc_s
        while not self.over and self._heard[self._index].utc_s < to_s:
            now_s = start_s + (time.monotonic() - began) * self._pace
            edge_s = min(now_s, to_s, self._heard[self._index].utc_s + SLICE_S)
            batch: dict[str, list[str]] = {"boat": [], "ais": []}
            while not self.over and self._heard[self._index].utc_s < edge_s:
                item = self._heard[self._index]
                batch[item.wire].append(tagged(item.sentence, item.wire, item.utc_s) + "\r\n")
                self._index += 1
            self._boat.server.send("".join(batch["boat"]).encode("ascii"))
            self._boat.ais.send("".join(batch["ais"]).encode("ascii"))
            time.sleep(0.002)


class Skipper:
    """Acknowledges something now and then, and remembers what was answered."""

    def __init__(self, boat: Boat, rng: random.Random) -> None:
        self._boat, self._rng = boat, rng
        self.told: list[str] = []  # alerts that the command line said are acknowledged
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._live)
        self._thread.start()

    def acknowledge(self, alert: str) -> None:
        done = self._boat.order("ack", alert)
        if done.returncode == 0 and "acknowledged" in done.stdout:
            self.told.append(alert)

    def close(self) -> None:
        self._over.set()
        self._thread.join()

    def _live(self) -> None:
        while not self._over.wait(self._rng.uniform(5.0, 25.0)):
            said = self._boat.order("alerts", "--json")
            if said.returncode not in (0, 1):
                continue
            rows = json.loads(said.stdout)["alerts"]
            waiting = [row["id"] for row in rows if row["state"] == "active-unacknowledged"]
            if waiting:
                self.acknowledge(self._rng.choice(waiting))


def moments(rng: random.Random, count: int) -> list[float]:
    """Half anywhere in the night, half within or soon after something that ought to be told."""
    end_s = night.HOURS * 3600
    told = [truth for truth in night.TRUTHS if truth.rule is not None]
    found = []
    for number in range(count):
        if number % 2:
            truth = rng.choice(told)
            found.append(rng.uniform(truth.from_s, min(end_s, truth.from_s + 2 * MARGIN_S)))
        else:
            found.append(rng.uniform(SETTLE_S + 60.0, end_s))
    return sorted(night.START + at_s for at_s in found)


def one_night(seed: int, kills: int, pace: float, tally: Tally) -> None:
    """One night with so many kills."""
    rng = random.Random(seed)
    with tempfile.TemporaryDirectory(prefix="shipkeeper-kills-") as name:
        folder = Path(name)
        text = orders_of_the_night().replace("{ais}", str(folder / "ais-port"))
        with Boat(folder, text) as boat:
            feed = Feed(boat, pace)
            skipper: Skipper | None = None
            owed: dict[str, dict[str, Any]] = {}
            got: list[dict[str, Any]] = []
            expected: dict[str, str] | None = None
            try:
                for moment in [*moments(rng, kills), None]:
                    with boat.watch(*FEED_CLOCK) as daemon:
                        if expected is None:
                            weigh_in(boat, feed)
                            skipper = Skipper(boat, random.Random(seed + 1))
                        else:
                            after_restart(boat, daemon, expected, tally)
                        boat.server.wait(within_s=30)
                        if moment is None:
                            feed.until(float("inf"))
                            boat.phone.manner = "take"
                            settle(boat)
                            break
                        feed.until(moment)
                        boat.phone.manner = rng.choice(("take", "take", "refuse"))
                        assert skipper is not None
                        kill(boat, daemon, skipper, rng, tally)
                    boat.server.hang_up()
                    got += drained(boat.phone.got)
                    left = Left(boat.state)
                    expected = left.unanswered()
                    tally.kills += 1
                    tally.stood += len(expected)
                    tally.owed += len(left.owed)
                    owed |= {message["id"]: message for message in left.owed}
                    for alert in set(skipper.told):
                        if left.answers(alert) < skipper.told.count(alert):
                            tally.lost.append(f"an acknowledgement of {alert}")
            finally:
                if skipper is not None:
                    skipper.close()
                    tally.acknowledged += len(skipper.told)
            got += drained(boat.phone.got)
            reckon(Left(boat.state), owed, got, tally)


def weigh_in(boat: Boat, feed: Feed) -> None:
    """The first start: some minutes of data, then the anchor is set."""
    boat.server.wait(within_s=30)
    feed.until(night.START + SETTLE_S)
    boat.until(lambda: boat.ask("status")["own"]["lat"] is not None)
    mark = f"{night.ANCHOR.lat:.6f},{night.ANCHOR.lon:.6f}"
    said = boat.order("anchor", "at", mark, "--rode", "40 m", "--depth", "7.2 m", "--rise", "0 m")
    assert said.returncode in (0, 1), said.stderr


def kill(boat: Boat, daemon: Daemon, skipper: Skipper, rng: random.Random, tally: Tally) -> None:
    """At once, or at some moment while a person acknowledges."""
    waiting = sorted(Left(boat.state).unanswered())
    if not waiting or rng.random() < 0.5:
        daemon.kill()
        return
    tally.midway += 1
    hand = threading.Thread(target=skipper.acknowledge, args=(rng.choice(waiting),))
    hand.start()
    time.sleep(rng.uniform(0.1, 0.7))
    daemon.kill()
    hand.join()


def after_restart(boat: Boat, daemon: Daemon, expected: dict[str, str], tally: Tally) -> None:
    """No data has come yet: what stood, stands and sounds."""
    if expected:
        try:
            took_s = daemon.says("buzzer  .", within_s=20.0) - daemon.began_s
            tally.slowest_s = max(tally.slowest_s, took_s)
            if took_s > SOUNDS_WITHIN_S:
                load = os.getloadavg()[0]  # every process starts late on a machine that is busy
                tally.lost.append(f"silent for {took_s:.1f} s, load {load:.1f}: {expected}")
        except AssertionError:
            tally.lost.append(f"no sound after a restart: {expected}")
    boat.until(lambda: boat.order("status").returncode in (0, 1))
    status = boat.ask("status")
    mark = status["mark"]
    if status["watch"] != "anchored" or mark is None:
        tally.lost.append(f"watch or mark: {status['watch']}, {mark}")
    elif abs(mark["lat"] - night.ANCHOR.lat) + abs(mark["lon"] - night.ANCHOR.lon) > 2e-6:
        tally.lost.append(f"the mark has moved: {mark}")
    states = {row["id"]: row["state"] for row in boat.ask("alerts")["alerts"]}
    for alert in expected:
        since = [row for row in Left(boat.state).journal if row["alert"] == alert]
        answered = since[-1]["reason"] == "acknowledge"  # the skipper was quicker than this look
        if states.get(alert) not in UNANSWERED and not answered:
            tally.lost.append(f"{alert} stood unanswered, after the restart {states.get(alert)}")


def settle(boat: Boat) -> None:
    """Until nothing is owed to the phone any more."""
    boat.until(lambda: not Left(boat.state).owed, within_s=120.0)
    time.sleep(0.5)


def reckon(
    left: Left, owed: dict[str, dict[str, Any]], got: list[dict[str, Any]], tally: Tally
) -> None:
    """Everything owed at a kill, and every raise, has come to the phone."""
    tally.pushed += len(got)
    said = [f"{message['title']}\n{message['message']}" for message in got]
    whole = "\n".join(said)
    refs = set(re.findall(r"^ref (.+)$", whole, re.MULTILINE))
    listed = set(re.findall(r"^\d\d:\d\d.* ref (\S+)$", whole, re.MULTILINE))
    stamps = re.findall(r"^(\d\d:\d\d(?:, \d\d:\d\d)*) raised: ", whole, re.MULTILINE)
    listed_raises = {stamp for together in stamps for stamp in together.split(", ")}
    for message in owed.values():
        ref = f"{message['number']}.{message['occurrence']} {message['event']} "
        ref += message["at"][11:19]
        if ref not in refs and ref.split()[0] not in listed:
            tally.lost.append(f"a message that was owed: {ref} {message['title']}")
    last: dict[str, dict[str, Any]] = {}
    for row in left.journal:
        fresh = row["from"] not in UNANSWERED and row["to"] == "active-unacknowledged"
        if fresh and row["reason"] in RAISED and row["priority"] in SOUNDING:
            tally.raised += 1
            moment = row["at"][11:19]
            told = any(ref.endswith(f"raised {moment}") for ref in refs)
            if not told and moment[:5] not in listed_raises and not spoken_for(row, last.values()):
                tally.lost.append(f"the push of {row['alert']} raised at {moment}")
        last[row["alert"]] = row


def spoken_for(row: dict[str, Any], others: Iterable[dict[str, Any]]) -> bool:
    """One ship, one announcement: another alert about her waits for an answer already. And one
    more on the list of a zone that waits for an answer is told with the list, some time later."""
    return row["mmsi"] is not None and any(
        other["to"] in UNANSWERED
        and (
            other["mmsi"] == row["mmsi"] or (other["kind"], other["rule"]) == ("zone", row["rule"])
        )
        for other in others
    )


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--a-night", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--pace", type=float, default=330.0)
    chosen = parser.parse_args()
    version = subprocess.run(
        [*SHIPKEEPER, "--version"], capture_output=True, text=True, check=False, cwd=ROOT
    )
    print(version.stdout.strip(), flush=True)
    tally, seed, began = Tally(), chosen.seed, time.monotonic()
    while tally.kills < chosen.kills:
        one_night(seed, min(chosen.a_night, chosen.kills - tally.kills), chosen.pace, tally)
        seed += 1
        print(f"{time.monotonic() - began:6.0f} s  {tally}", flush=True)
    for what in tally.lost:
        print(f"LOST  {what}")
    return 1 if tally.lost else 0


if __name__ == "__main__":
    sys.exit(main())
