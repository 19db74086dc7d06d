"""A boat for faults of the machine: tanks that go low on demand, one after the other.

Each low tank is one alarm, by name, in words that occur once. The daemon is the real one, played
at the feed's own clock, so that a minute passes in an instant; what is measured is real time from
the sentence to the word of the buzzer.
"""

from __future__ import annotations

import contextlib
import json
import re
import socket
import sqlite3
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, cast

from demo import night, sentences
from tests.faults.kills import Left
from tests.live.boat import (
    BUZZER,
    FEED_CLOCK,
    HEAD,
    LOG,
    PHONE,
    RECORDER,
    Boat,
    Daemon,
    drained,
)

TANKS = 40
ON_TIME_S = 2.0  # real seconds from the sentence with which it holds to the sound; our own choice
PATIENCE_S = 60.0  # on a machine where others work
FEED_EVERY_S = 0.3
WAITS = ("active-unacknowledged", "active-silenced", "rectified-unacknowledged")
TANK = """
[[sensor]]
name = "tank {number}"
measures = "T{number}"
below = "50 %"
priority = "alarm"
confirm = "1 s"
clear = "1 s"
"""


def orders(*more: str, tanks: int = TANKS) -> str:
    """Orders with these outlets; the marks in braces are filled in by Boat."""
    tables = "".join(TANK.format(number=number) for number in range(1, tanks + 1))
    return HEAD + tables + "".join(more or (BUZZER, PHONE, LOG, RECORDER))


class Died(Exception):
    """The daemon is not there any more."""


class Unread:
    """As much of a Daemon as can be had of one that nobody listens to."""

    def __init__(self, process: subprocess.Popen[bytes]) -> None:
        self.process = process
        self.printed: list[tuple[float, str]] = []


class Aboard:
    """A boat, her tanks and her watch. `start` it, `lower` a tank, `hear` the alarm."""

    def __init__(self, folder: Path, text: str | None = None, tanks: int = TANKS) -> None:
        self.boat = Boat(folder, text or orders(tanks=tanks))
        self.tanks = tanks
        self.utc_s, self._fed_s = night.START, time.monotonic()
        self.low: set[int] = set()
        self.north_m = 0.0
        self.daemon: Daemon | None = None
        self.environment: dict[str, str] = {}  # of every start
        self._stack = contextlib.ExitStack()
        self.got: list[dict[str, Any]] = []  # by the phone, all of it

    # -- the daemon --------------------------------------------------------------------------

    def start(self, *flags: str, **environment: str) -> Daemon:
        self._stack.close()
        self.boat.server.hang_up()
        self.daemon = self._stack.enter_context(
            self.boat.watch(*(flags or FEED_CLOCK), **{**self.environment, **environment})
        )
        return self.daemon

    def attach(self, process: subprocess.Popen[bytes]) -> None:
        """A daemon that somebody else started, and whose words nobody reads here."""
        self.daemon = cast("Daemon", Unread(process))

    def kill(self) -> None:
        assert self.daemon is not None
        self.daemon.kill()

    def stop(self) -> int:
        assert self.daemon is not None
        return self.daemon.stop()

    def close(self) -> None:
        self._stack.close()
        self.boat.__exit__()

    def runtime(self) -> Path:
        """A folder that stands for systemd's in memory."""
        folder = self.boat.folder / "runtime"
        folder.mkdir(exist_ok=True)
        return folder

    def daemon_says(self, part: str) -> bool:
        assert self.daemon is not None
        return any(part in line for _, line in self.daemon.printed)

    @property
    def alive(self) -> bool:
        return self.daemon is not None and self.daemon.process.poll() is None

    def say(self, verb: str, **args: Any) -> dict[str, Any]:
        """A person's word over the control socket, and the answer. Raises Died."""
        edge_s = time.monotonic() + PATIENCE_S
        while True:
            try:
                return self._asked(verb, args)
            except (OSError, ValueError) as error:
                if not self.alive:
                    raise Died(verb) from None
                if time.monotonic() > edge_s:
                    raise TimeoutError(f"{verb}: {error}") from None
                time.sleep(0.02)

    def _asked(self, verb: str, args: dict[str, Any]) -> dict[str, Any]:
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as wire:
            wire.settimeout(PATIENCE_S)
            folder = self.environment.get("RUNTIME_DIRECTORY") or self.boat.state
            wire.connect(f"{folder}/control")
            wire.sendall(json.dumps({"verb": verb, "args": args}).encode() + b"\n")
            with wire.makefile("rb") as lines:
                answer = json.loads(lines.readline())
        assert isinstance(answer, dict)
        return answer

    def until(
        self, found: Callable[[], Any], within_s: float = PATIENCE_S, *, fed: bool = False
    ) -> Any:
        """The first true answer. Raises Died, and TimeoutError with what is printed. fed: the
        wire goes on meanwhile."""
        edge_s = time.monotonic() + within_s
        while True:
            if fed and time.monotonic() - self._fed_s > FEED_EVERY_S:
                self.feed()
            result = found()
            if result:
                return result
            if not self.alive:
                raise Died
            if time.monotonic() > edge_s:
                assert self.daemon is not None
                raise TimeoutError([line for _, line in self.daemon.printed[-12:]])
            time.sleep(0.01)

    # -- the sea -----------------------------------------------------------------------------

    def feed(self, seconds: float = 1.0) -> None:
        """So many seconds of what the wire says; at once."""
        self.until(lambda: self.boat.server.clients)
        # Between two stamps of the feed its clock goes at the pace of real time.
        now_s = time.monotonic()
        self.utc_s, self._fed_s = self.utc_s + (now_s - self._fed_s), now_s
        out: list[str] = []
        for _ in range(round(seconds)):
            self.utc_s += 1.0
            out += self._said()
        self.boat.server.send("".join(out).encode())

    def repeat(self) -> int:
        """This moment's sentences again, without stamps of the feed: how many."""
        out = [line.rpartition("\\")[2] for line in self._said()]
        self.boat.server.send("".join(out).encode())
        return len(out)

    def _said(self) -> list[str]:
        """The lines of one moment, tagged."""
        lat = night.ANCHOR.lat + self.north_m / 111_200.0
        said = [sentences.rmc(self.utc_s, lat, night.ANCHOR.lon, 0.1, 90.0)]
        for first in range(1, self.tanks + 1, 4):
            numbers = range(first, min(first + 4, self.tanks + 1))
            said.append(sentences.finish("IIXDR," + ",".join(map(self._level, numbers))))
        return [sentences.tagged(line, "boat", self.utc_s) + "\r\n" for line in said]

    def _level(self, number: int) -> str:
        return f"P,{20.0 if number in self.low else 80.0},P,T{number}"

    # -- one alarm ---------------------------------------------------------------------------

    def anchor(self) -> dict[str, Any]:
        """Some data, then the watch is set. Returns the answer to the person."""
        self.feed(3)
        self.until(lambda: (self.state() or {}).get("own", {}).get("lat") is not None, fed=True)
        return self.say("anchor", how="at", lat=night.ANCHOR.lat, lon=night.ANCHOR.lon)

    def lower(self, number: int) -> float:
        """The tank goes low; real seconds until the buzzer said so."""
        assert self.daemon is not None
        printed, began_s = len(self.daemon.printed), time.monotonic()
        self.low.add(number)
        self.feed(4)
        return self.sounded(number, printed) - began_s

    def raised(self, number: int) -> None:
        """The tank goes low, and the alarm stands; another one may be louder."""
        self.low.add(number)
        self.feed(4)
        self.until(lambda: self.standing(f"tank-{number}"), fed=True)

    def sounded(self, number: int, printed: int = 0, *, fed: bool = True) -> float:
        """Monotonic time at which the buzzer spoke of this tank, from that line on."""
        name = re.compile(rf"buzzer .*TANK {number}\b")
        assert self.daemon is not None
        lines = self.daemon.printed

        def found() -> float | None:
            said = lines[printed:]
            return next((at for at, line in said if name.search(line)), None)

        return float(self.until(found, fed=fed))

    def answered(self, number: int) -> bool:
        """A person takes note of it: whether that was confirmed as kept."""
        return int(self.say("ack", id=f"tank-{number}")["code"]) == 0

    def fill(self, number: int) -> None:
        """The tank is full again, and after a while nothing stands of it."""
        self.low.discard(number)
        self.feed(5)
        self.until(lambda: self.standing(f"tank-{number}") is None, fed=True)

    def state(self) -> dict[str, Any]:
        data = self.say("status")["data"]
        assert isinstance(data, dict)
        return data

    def standing(self, alert: str) -> dict[str, Any] | None:
        rows = self.say("alerts")["data"].get("alerts", ())  # none: it had no time to answer
        return next((row for row in rows if row["id"] == alert), None)

    # -- what is left ------------------------------------------------------------------------

    def pushed(self) -> list[dict[str, Any]]:
        """All that the phone has got up to now."""
        self.got += drained(self.boat.phone.got)
        return self.got


@contextlib.contextmanager
def aboard(folder: Path, *more: str, tanks: int = TANKS) -> Iterator[Aboard]:
    made = Aboard(folder, orders(*more, tanks=tanks), tanks)
    try:
        yield made
    finally:
        made.close()


def left(state: Path) -> Left | None:
    """What a daemon's files hold, from a copy; None when there is no whole store yet."""
    try:
        return Left(state)
    except sqlite3.OperationalError:
        return None


def doubled(journal: list[dict[str, Any]], *, raises: bool = True) -> list[str]:
    """Lines that stand twice, and raises of what was raised already (what was over when the
    daemon was killed is counted from one again: then not to be asked for)."""
    seen: set[str] = set()
    twice = []
    for row in journal:
        key = json.dumps(row, sort_keys=True)
        if key in seen:
            twice.append(f"{row['at'][11:19]} {row['alert']} {row['from']} to {row['to']}")
        seen.add(key)
    counts: dict[tuple[str, int], int] = {}
    for row in journal if raises else ():
        if row["reason"] == "condition" and row["to"] == "active-unacknowledged":
            key_ = (row["alert"], row["occurrence"])
            counts[key_] = counts.get(key_, 0) + 1
    return twice + [f"{alert}.{n} raised {count} times" for (alert, n), count in counts.items()
                    if count > 1]  # fmt: skip


def told_on(got: list[dict[str, Any]]) -> tuple[set[str], set[str]]:
    """(refs of single messages, refs in lists) that the phone got: 'NUMBER.OCCURRENCE'."""
    whole = "\n".join(f"{message['title']}\n{message['message']}" for message in got)
    single = set(re.findall(r"^ref (\d+\.\d+) raised", whole, re.MULTILINE))
    return single, set(re.findall(r"^\d\d:\d\d.* ref (\d+\.\d+)$", whole, re.MULTILINE))
