"""The real daemon on ptys or sockets, played at the feed's own clock, and one fault after another.

A fault is a list of steps (table.toml). Times are those of the feed, so that minutes pass in
a fraction of a second, and each line of the journal has the second at which it was due.
"""

from __future__ import annotations

import contextlib
import json
import socket
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import msgspec
import tomli
from demo.sentences import finish, tagged
from tests.faults.wires import HERE, OWN_MMSI, SPOILERS, WIRES, Boat, Spoilt
from tests.live.boat import Boat as Ashore
from tests.live.boat import Daemon
from tests.peers import PtyPair, SentenceServer

from shipkeeper.store import read_journal

TABLE = Path(__file__).with_name("table.toml")
NIGHT_S = datetime(2026, 6, 12, 0, 0, tzinfo=UTC).timestamp()
BATCH_S = 5
Kind = Literal["sockets", "ptys"]

ORDERS = f"""
[vessel]
name = "Marren"
mmsi = {OWN_MMSI}
length = "11.4 m"
beam = "3.6 m"
transducer_depth = "0.6 m"
draught = "1.8 m"

<inputs>

[drag]
radius = "45 m"
confirm = "10 s"

[[depth]]
name = "shoal water"
shallower_than = "2.5 m"
reference = "waterline"
forecast = "0 s"

[[wind]]
name = "blow"
stronger_than = "25 kn"

[[sensor]]
name = "house battery"
measures = "BATT"
below = "12.1 V"

[[zone]]
name = "guard"
around = "ship"
ring = {{ from = "0 m", to = "0.5 NM" }}

[[proximity]]
name = "close quarters"
cpa = "0.3 NM"
tcpa = "12 min"
watches = ["underway"]

[feed]

[[outlet]]
name = "buzzer"
terminal = {{}}
"""
EXPECTS = {
    "gnss": '["position"]',
    "second": '["position"]',
    "deck": '["heading", "depth", "wind"]',
    "ais": '["ais"]',
    "metronome": "[]",
}


class Expected(msgspec.Struct, forbid_unknown_fields=True):
    """A line that must be in the journal: seconds after the fault began."""

    alert: str
    to: str
    by: float
    priority: str = ""
    text: str = ""


class Fault(msgspec.Struct, forbid_unknown_fields=True):
    """One row of the table."""

    name: str
    steps: list[dict[str, Any]]
    boat: str = "one"
    watch: str = "anchored"
    must: list[Expected] = []
    must_not: list[str] = []  # alerts that may not be raised, named for the reader
    stays: dict[str, str] = {}  # alert -> its state at the end
    unknown: list[str] = []  # the only rules that may turn unknown; empty: none


def faults() -> list[Fault]:
    rows = tomli.loads(TABLE.read_text())["fault"]
    return [msgspec.convert(row, Fault) for row in rows]


class Rig:
    """One boat with her wires and her daemon, used for many faults."""

    def __init__(self, folder: Path, kind: Kind, boat: str) -> None:
        self.folder, self.kind = folder, kind
        names = [name for name in WIRES if boat == "two" or name != "second"]
        self.wires: dict[str, SentenceServer | PtyPair] = {
            name: SentenceServer() if kind == "sockets" else PtyPair(folder / name)
            for name in names
        }
        text = ORDERS.replace("<inputs>", "\n".join(self._input(name) for name in names))
        self.ashore = Ashore(folder, text.replace("{", "{{").replace("}", "}}"))
        self.boat = Boat(NIGHT_S)
        self.spoilt: dict[str, tuple[str, Spoilt]] = {}
        self.unplugged: set[str] = set()
        self._stack = contextlib.ExitStack()
        self.daemon: Daemon | None = None

    def _input(self, name: str) -> str:
        wire = self.wires[name]
        where = (
            f'tcp = "127.0.0.1:{wire.port}"'
            if isinstance(wire, SentenceServer)
            else f'serial = "{wire.path}"'
        )
        return f'[[input]]\nname = "{name}"\n{where}\nexpect = {EXPECTS[name]}\n'

    # -- the daemon --------------------------------------------------------------------------

    def start(self) -> None:
        starts = datetime.fromtimestamp(self.boat.utc_s, UTC).isoformat()
        flags = ("--clock", "feed", "--starts", starts)
        self.daemon = self._stack.enter_context(self.ashore.watch(*flags))
        self.connected()

    def connected(self) -> None:
        """Every wire that is plugged is up again, by the daemon's own word."""
        plugged = set(self.wires) - self.unplugged
        for name in plugged:
            wire = self.wires[name]
            if isinstance(wire, SentenceServer):
                wire.wait(within_s=30.0)
        self.until(
            lambda: plugged <= {i["name"] for i in self.status()["inputs"] if i["up"] is True}
        )

    def kill(self) -> None:
        assert self.daemon is not None
        self.daemon.kill()
        for wire in self.wires.values():
            if isinstance(wire, SentenceServer):
                wire.hang_up()

    def close(self) -> None:
        self._stack.close()
        for wire in self.wires.values():
            if isinstance(wire, SentenceServer):
                wire.go()
            else:
                wire.close()
        self.ashore.__exit__()

    def order(self, verb: str, **args: Any) -> dict[str, Any]:
        """A person's word, over the control socket."""
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as wire:
            wire.settimeout(20.0)
            wire.connect(str(self.ashore.state / "control"))
            wire.sendall(json.dumps({"verb": verb, "args": args}).encode() + b"\n")
            with wire.makefile("rb") as lines:
                answer = json.loads(lines.readline())
        assert isinstance(answer, dict)
        assert answer["code"] < 2, answer["text"]
        return answer

    def status(self) -> dict[str, Any]:
        try:
            data = self.order("status")["data"]
        except (OSError, ValueError):
            return {"at": "", "inputs": [], "alerts": []}
        assert isinstance(data, dict)
        return data

    def until(self, found: Any, within_s: float = 30.0) -> None:
        edge_s = time.monotonic() + within_s
        while not found():
            assert time.monotonic() < edge_s, self.status()
            time.sleep(0.005)

    # -- time --------------------------------------------------------------------------------

    def run(self, seconds: float, drift_ms: float = 0.0) -> None:
        """So many seconds of everything that the wires say; then the engine is there too."""
        done = 0
        while done < seconds:
            batch: dict[str, list[str]] = {}
            # The first second by itself: the feed's clock waits only for wires that talk.
            for _ in range(min(BATCH_S, round(seconds) - done) if done else 1):
                done += 1
                self.boat.utc_s += 1.0
                self.boat.north_m += drift_ms
                for name in self.wires:
                    if name not in self.unplugged:
                        batch.setdefault(name, []).extend(self._said(name))
            for name, lines in batch.items():
                if lines:
                    data = "".join(line + "\r\n" for line in lines)
                    self.wires[name].send(data.encode("latin-1"))
            # On a busy machine one wire must not run far ahead of another.
            self._heard([name for name, lines in batch.items() if lines])
        self.caught_up()

    def _said(self, name: str) -> list[str]:
        lines = WIRES[name](self.boat)
        if name in self.spoilt:
            how, then = self.spoilt[name]
            lines = SPOILERS[how](self.boat, then, lines)
        if not lines:
            return []
        stamp = finish(f"s:{name},c:{round(self.boat.utc_s * 1000)}", "\\") + "\\"
        if name in self.spoilt and self.spoilt[name][0] in ("junk", "cut short", "no checksums"):
            return [stamp, *lines]  # it is the mixer that stamps, whatever it hears
        return [tagged(line, name, self.boat.utc_s) if line[:1] in "$!" else line for line in lines]

    def _heard(self, names: list[str]) -> None:
        """Until the engine has heard of each of these wires after the last pause."""

        def all_heard() -> bool:
            status = self.status()
            ages = {i["name"]: i["last_line_age_s"] for i in status["inputs"]}
            now_s = datetime.fromisoformat(status["at"]).timestamp() if status["at"] else 0.0
            return all(
                (age := ages.get(name)) is not None and now_s - age >= self.boat.utc_s - 0.5
                for name in names
            )

        self.until(all_heard)

    def caught_up(self) -> None:
        label = datetime.fromtimestamp(self.boat.utc_s, UTC).strftime("%Y-%m-%dT%H:%M:%S")
        self.until(lambda: self.status()["at"] >= label)

    # -- one fault ---------------------------------------------------------------------------

    def play(self, fault: Fault) -> list[str]:
        """Plays it; what did not go as the table says."""
        self._prepare(fault.watch)
        set_s = began_s = self.boat.utc_s
        for step in fault.steps:
            begins = self._step(step)
            if begins and began_s == set_s:
                began_s = self.boat.utc_s
        wrong: list[str] = []
        edge_s = time.monotonic() + 3.0
        while True:
            rows = self.journal(began_s)
            wrong = _compare(fault, rows, began_s)
            if not wrong or time.monotonic() > edge_s:
                break
            time.sleep(0.05)
        states = {row["id"]: row["state"] for row in self.status()["alerts"]}
        for alert, state in fault.stays.items():
            if states.get(alert) != state:
                wrong.append(f"{alert} is {states.get(alert)} at the end, not {state}")
        return wrong

    def _prepare(self, watch: str) -> None:
        """Everything well again, a quarter of an hour later, and the watch set anew."""
        for name in sorted(self.unplugged):
            self._plug(name)
        self.connected()
        self.order("off")
        for row in self.status()["alerts"]:
            with contextlib.suppress(AssertionError):
                self.order("ack", id=row["id"])
        self.boat = Boat(self.boat.utc_s + 1000.0)
        self.spoilt = {}
        self.run(60)
        if watch == "anchored":
            self.order("anchor", how="at", lat=HERE.lat, lon=HERE.lon)
        else:
            self.order(watch)
        self.run(15)

    def _step(self, step: dict[str, Any]) -> bool:
        """One step; True when it is one with which the fault begins."""
        match step:
            case {"spoil": name, "how": how}:
                lines = WIRES[name](self.boat)
                self.spoilt[name] = (how, Spoilt(self.boat, lines))
                return True
            case {"unplug": name}:
                self._unplug(name)
                return True
            case {"cut": seconds}:
                # The power goes: no warning to anybody, and the sea goes on meanwhile.
                self.kill()
                self.boat.utc_s += seconds
                self.start()
                return True
            case {"mend": name}:
                self.spoilt.pop(name, None)
                if name in self.unplugged:
                    self._plug(name)
                    self.connected()
                return False
            case {"begin": True}:
                return True
            case {"set": what, "to": value}:
                setattr(self.boat, what, value)
                return False
            case {"run": seconds}:
                self.run(seconds, step.get("drift", 0.0))
                return False
            case {"order": verb}:
                self.order(verb, **step.get("args", {}))
                return False
        raise AssertionError(f"no such step: {step}")

    def _unplug(self, name: str) -> None:
        wire = self.wires[name]
        if isinstance(wire, SentenceServer):
            wire.go()
        else:
            wire.unplug()
        self.unplugged.add(name)
        self.until(lambda: {i["name"]: i["up"] for i in self.status()["inputs"]}.get(name) is False)

    def _plug(self, name: str) -> None:
        wire = self.wires[name]
        if isinstance(wire, SentenceServer):
            wire.back()
        else:
            wire.plug()
        self.unplugged.discard(name)

    def journal(self, since_s: float) -> list[tuple[float, dict[str, Any]]]:
        """(second, transition) of everything since then."""
        path = self.ashore.state / "shipkeeper.db"
        rows = read_journal(path, since_s=since_s, kinds=("transition",))
        return [(at_s, json.loads(line)) for at_s, _, line in rows]


def _compare(fault: Fault, rows: list[tuple[float, dict[str, Any]]], began_s: float) -> list[str]:
    """Where the journal differs from the table."""
    wrong = []
    for must in fault.must:
        found = [
            round(at_s - began_s, 1)
            for at_s, row in rows
            if row["alert"] == must.alert
            and row["to"] == must.to
            and must.priority in ("", row["priority"])
            and must.text in row["text"]
        ]
        if not found:
            wrong.append(f"{must.alert} did not go to {must.to} {must.priority} {must.text}")
        elif found[0] > must.by:
            wrong.append(f"{must.alert} went to {must.to} only after {found[0]} s")
    allowed = {must.alert for must in fault.must}
    for at_s, row in rows:
        raised = row["to"] in ("active", "active-unacknowledged") and row["reason"] == "condition"
        when = f"after {at_s - began_s:.0f} s: {row['text']}"
        if raised and row["alert"] not in allowed:
            wrong.append(f"{row['alert']} was raised {when}")
        if row["to"] == "unknown" and row["alert"] not in fault.unknown:
            wrong.append(f"{row['alert']} turned unknown {when}")
    raises: dict[str, int] = {}
    for _, row in rows:
        if row["to"] == "active-unacknowledged" and row["reason"] == "condition":
            raises[row["alert"]] = raises.get(row["alert"], 0) + 1
    wrong += [f"{alert} was raised {n} times" for alert, n in raises.items() if n > 1]
    return wrong
