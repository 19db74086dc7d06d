"""Campaign: each way out hangs, refuses, drips or loses its answer, and the others go on.

    nice python -m tests.faults.ways [WORD]

Push over HTTP, syslog over TCP and a real broker (Debian's mosquitto) each stand behind a
go-between (tests/peers/between.py). In every row one of them is spoilt: two alarms must sound on
time and reach the others in time; when it is well again it gets both, and where a message comes
twice both have the same id. Then the terminal that draws the buzzer: nobody reads it, it is closed,
or read one byte a second. What a receiver took and acknowledged and then lost cannot be seen from
the boat; the drill is there for that.
"""

from __future__ import annotations

import functools
import json
import os
import re
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, get_args

from tests.faults.aboard import ON_TIME_S, Aboard, doubled, left, orders
from tests.live.boat import BUZZER, FEED_CLOCK, ROOT, SHIPKEEPER, drained
from tests.peers.between import Between, Manner
from tests.peers.broker import Broker, Subscriber
from tests.peers.syslog import SyslogTcp

TANKS = 40
OTHERS_WITHIN_S = 6.0
PUSH_WITHIN_S = 25.0  # not more than ten at once, then one in six seconds: it keeps its own pace
AT_LAST_WITHIN_S = 150.0  # longest pause between two tries, and a deadline or two
SPOILT: tuple[Manner, ...] = ("hang", "refuse", "drip", "lose")
WAYS = ("push", "syslog", "mqtt")
assert set(SPOILT) < set(get_args(Manner))
OUTLETS = """
[[outlet]]
name = "push"
push = {{ urls = "{secret}" }}
from_priority = "warning"

[[outlet]]
name = "syslog"
syslog = {{ address = "<syslog>" }}

[[outlet]]
name = "mqtt"
mqtt = {{ address = "<mqtt>", boat = "marren" }}
"""


@dataclass
class Told:
    """What rows came to."""

    sounds_s: list[float] = field(default_factory=list)
    others_s: list[float] = field(default_factory=list)
    pushed_s: list[float] = field(default_factory=list)
    twice: int = 0
    wrong: list[str] = field(default_factory=list)


class Three:
    """A boat with three ways out, each behind a go-between, and what came out of them."""

    def __init__(self, folder: Path) -> None:
        self.log, self.broker = SyslogTcp(), Broker(folder)
        self.between = {"syslog": Between(self.log.port), "mqtt": Between(self.broker.port)}
        text = OUTLETS.replace("<syslog>", f"tcp:127.0.0.1:{self.between['syslog'].port}")
        text = text.replace("<mqtt>", f"127.0.0.1:{self.between['mqtt'].port}")
        self.aboard = Aboard(folder, orders(BUZZER, text, tanks=TANKS), TANKS)
        self.between["push"] = Between(self.aboard.boat.phone.port)
        secret = folder / "push-urls"
        secret.write_text(f"json://127.0.0.1:{self.between['push'].port}/\n")
        self.ear = Subscriber(self.broker, "shipkeeper/marren/event")
        self.logged: list[str] = []

    def close(self) -> None:
        self.aboard.close()
        for one in self.between.values():
            one.close()
        self.ear.close()
        self.broker.close()
        self.log.close()

    def events(self) -> list[dict[str, Any]]:
        """What the broker was told, in order."""
        return [json.loads(body) for _, body, _ in list(self.ear.said) if body]

    def heard(self, way: str, tank: int) -> list[str]:
        """The ids of the messages that came out there about that tank being raised; a list that
        names it counts."""
        name = re.compile(rf"tank[ -]{tank}\b", re.IGNORECASE)
        if way == "push":
            return [
                _ref(text)
                for text in (f"{m['title']}\n{m['message']}" for m in self.aboard.pushed())
                if name.search(text) and "raised" in text
            ]
        if way == "syslog":
            self.logged += [raw.decode() for raw in drained(self.log.got)]
            found = re.compile(rf'id="tank-{tank}" .*event="raised" .*msg="([^"]*)"')
            return [m[1] for m in map(found.search, self.logged) if m is not None]
        said = [json.loads(body) for _, body, _ in list(self.ear.said) if body]
        return [
            one["id"]
            for one in said
            if one["event"] == "raised" and one["id"].startswith(f"tank-{tank}/")
        ]


LISTED = "in a list"


def _ref(text: str) -> str:
    """What tells a push from another of the same alert; a list is sent for many."""
    found: list[str] = re.findall(r"^ref \S+ raised .*$", text, re.MULTILINE)
    return found[-1] if found and "MESSAGES" not in text else LISTED


def alarm(three: Three, tank: int, others: Sequence[str], where: str, told: Told) -> None:
    """One alarm: on time to the ear, and to every way that is well."""
    began_s = time.monotonic()
    took_s = three.aboard.lower(tank)
    told.sounds_s.append(took_s)
    if took_s > ON_TIME_S:
        told.wrong.append(f"{where}: tank {tank} sounded after {took_s:.1f} s")
    for way in others:
        edge_s = began_s + (PUSH_WITHIN_S if way == "push" else OTHERS_WITHIN_S)
        while not three.heard(way, tank) and time.monotonic() < edge_s:
            time.sleep(0.02)
        if three.heard(way, tank):
            (told.others_s if way != "push" else told.pushed_s).append(time.monotonic() - began_s)
        else:
            told.wrong.append(f"{where}: tank {tank} did not reach {way} in time")
    three.aboard.answered(tank)
    three.aboard.fill(tank)


def spoilt(three: Three, how: dict[str, Manner], tanks: Sequence[int], told: Told) -> None:
    """Some ways are spoilt while those tanks go low; then they are well again."""
    where = ", ".join(f"{way} {manner}" for way, manner in how.items())
    for way, manner in how.items():
        three.between[way].turn(manner)
    others = [way for way in WAYS if way not in how]
    for tank in tanks:
        alarm(three, tank, others, where, told)
    if three.aboard.state()["daemon"]["stuck"]:
        told.wrong.append(f"{where}: stuck: {three.aboard.state()['daemon']['stuck']}")
    for way in how:
        three.between[way].turn("pass")
    # That a line broke is seen when the next message is to go.
    three.aboard.raised(tanks[-1] + 1)
    three.aboard.answered(tanks[-1] + 1)
    three.aboard.fill(tanks[-1] + 1)
    for way in WAYS:
        for tank in tanks:
            try:
                came = functools.partial(three.heard, way, tank)
                three.aboard.until(came, AT_LAST_WITHIN_S, fed=True)
            except TimeoutError:
                told.wrong.append(f"{where}: tank {tank} never reached {way}")
            ids = three.heard(way, tank)
            told.twice += len(ids) - 1 if ids else 0
            single = [one for one in ids if one != LISTED]
            if way not in how and len(single) > 1:
                told.wrong.append(f"{where}: tank {tank} came {len(single)} times by {way}")
            if way != "push" and len(set(single)) > 1:
                told.wrong.append(f"{where}: tank {tank} by {way} under {set(single)}")


def terminal(manner: str, told: Told) -> None:
    """The terminal on which the buzzer is drawn: the phone has the alarm in time all the same."""
    with tempfile.TemporaryDirectory(prefix="shipkeeper-ways-") as name:
        aboard = Aboard(Path(name), tanks=2)
        aboard.tanks = 2
        reading, writing = os.pipe()
        over = threading.Event()
        process = subprocess.Popen(
            [*SHIPKEEPER, "watch", "--orders", str(aboard.boat.orders),
             "--state", str(aboard.boat.state), *FEED_CLOCK],
            stdout=writing, stderr=subprocess.DEVNULL, cwd=ROOT,
        )  # fmt: skip
        os.close(writing)
        reader = threading.Thread(target=_read_slowly, args=(reading, over))
        try:
            if manner == "closed":
                os.close(reading)
            elif manner == "one byte a second":
                reader.start()
            aboard.attach(process)
            aboard.anchor()
            began_s = time.monotonic()
            aboard.low.add(1)
            aboard.feed(4)
            aboard.until(
                lambda: any("TANK 1" in m["title"] for m in aboard.pushed()), 20.0, fed=True
            )
            told.others_s.append(time.monotonic() - began_s)
            if aboard.state()["daemon"]["stuck"]:
                told.wrong.append(f"terminal {manner}: stuck")
        except (TimeoutError, OSError) as error:
            told.wrong.append(f"terminal {manner}: {error!r}")
        finally:
            over.set()
            process.kill()
            process.wait()
            if reader.is_alive():
                reader.join()
            if manner != "closed":
                os.close(reading)
            aboard.close()


def _read_slowly(reading: int, over: threading.Event) -> None:
    while not over.wait(1.0):
        if not os.read(reading, 1):
            return


def short(folder: Path) -> Told:
    """All three spoilt at once, each in a manner of its own."""
    told, three = Told(), Three(folder)
    try:
        three.aboard.start()
        three.aboard.anchor()
        alarm(three, 1, WAYS, "all well", told)
        spoilt(three, {"push": "lose", "syslog": "refuse", "mqtt": "hang"}, (2, 3), told)
        finish(three, told)
    finally:
        three.close()
    return told


def finish(three: Three, told: Told) -> None:
    now = left(three.aboard.boat.state)
    told.wrong += [f"twice: {what}" for what in (doubled(now.journal) if now else ["no store"])]
    if three.aboard.stop() != 0:
        told.wrong.append("the watch did not end well")


def main(word: str) -> int:
    told, tank, began_s = Told(), 1, time.monotonic()
    with tempfile.TemporaryDirectory(prefix="shipkeeper-ways-") as name:
        three = Three(Path(name))
        try:
            three.aboard.start()
            three.aboard.anchor()
            alarm(three, 1, WAYS, "all well", told)
            for way in WAYS:
                for manner in SPOILT:
                    if word not in f"{way} {manner}":
                        continue
                    row, row_s = len(told.wrong), time.monotonic()
                    spoilt(three, {way: manner}, (tank + 1, tank + 2), told)
                    tank += 3
                    _row(f"{way} {manner}", told.wrong[row:], row_s)
            finish(three, told)
        finally:
            three.close()
    for how in ("full", "closed", "one byte a second"):
        if word in f"terminal {how}":
            row, row_s = len(told.wrong), time.monotonic()
            terminal(how, told)
            _row(f"terminal {how}", told.wrong[row:], row_s)
    print(f"{time.monotonic() - began_s:.0f} s: {len(told.sounds_s)} alarms, the slowest sound "
          f"after {max(told.sounds_s, default=0.0):.2f} s, by the other ways after "
          f"{max(told.others_s, default=0.0):.2f} s at most, by push, "
          f"which keeps a pace, {max(told.pushed_s, default=0.0):.0f} s; {told.twice} came twice; "
          f"{len(told.wrong)} things wrong")  # fmt: skip
    return 1 if told.wrong else 0


def _row(name: str, wrong: list[Any], since_s: float) -> None:
    took_s = time.monotonic() - since_s
    print(f"{'WRONG' if wrong else 'GOOD '} {name} ({took_s:.0f} s)", flush=True)
    for line in wrong:
        print(f"      {line}")


if __name__ == "__main__":
    sys.exit(main(sys.argv[1] if len(sys.argv) > 1 else ""))
