"""The real daemon under the full load, for benchmarks: a process of its own, loopback wires.

Orders are the demo's, with one TCP wire and the buzzer (drawn), push, syslog and MQTT.
"""

from __future__ import annotations

import contextlib
import itertools
import json
import os
import socket
import subprocess
import threading
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any, Self

from demo import night
from tests.live.boat import Boat, Daemon
from tests.peers.broker import Broker

Said = tuple[float, str, str]  # UNIX time, wire, sentence, as of full_load.log
TICKS_A_SECOND = os.sysconf("SC_CLK_TCK")


def orders(more: str = "") -> str:
    """Text for Boat: the demo's rules, and every sort of outlet."""
    text = (Path(night.__file__).parent / "orders.toml").read_text()
    head, _, rest = text.partition("[[input]]")
    rules = rest[rest.index("[[zone]]") : rest.index("[[outlet]]")]
    plain = (head + rules + more).replace("{", "{{").replace("}", "}}")
    return (
        plain
        + """
[[input]]
name = "boat"
tcp = "127.0.0.1:{port}"
expect = ["position"]

[[outlet]]
name = "buzzer"
terminal = {{}}

[[outlet]]
name = "skipper"
push = {{ urls = "{secret}", picture = false }}

[[outlet]]
name = "log"
syslog = {{ address = "{syslog}" }}

[[outlet]]
name = "fleet"
mqtt = {{ address = "BROKER", boat = "marren" }}
"""
    )


@contextlib.contextmanager
def watching(folder: Path, more: str = "") -> Iterator[tuple[Boat, Daemon]]:
    """A boat at anchor with its daemon at work, connected to its wire and its broker."""
    with Broker(folder) as broker:
        text = orders(more).replace("BROKER", broker.address)
        with Boat(folder, text) as boat, boat.watch() as daemon:
            boat.server.wait(within_s=30)
            anchor = f"{night.ANCHOR.lat},{night.ANCHOR.lon}"
            words = ("anchor", "at", anchor, "--rode", "40 m", "--depth", "7.2 m")
            boat.until(lambda: boat.order(*words).returncode in (0, 1))
            yield boat, daemon


class Play:
    """Sends a log over the boat's wire in real time, from another thread, until the end."""

    def __init__(self, boat: Boat, log: Iterable[Said]) -> None:
        self._boat = boat
        self._bursts = [
            (at_s, "".join(line + "\r\n" for _, _, line in said).encode())
            for at_s, said in itertools.groupby(log, key=lambda said: said[0])
        ]
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._send, daemon=True)
        self.sent = 0

    def _send(self) -> None:
        first_s, began_s = self._bursts[0][0], time.monotonic()
        for at_s, data in self._bursts:
            wait_s = began_s + at_s - first_s - time.monotonic()
            if wait_s > 0 and self._stop.wait(wait_s):
                return
            self._boat.server.send(data)
            self.sent += data.count(b"\n")

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join(5)


def share_of_core(process: subprocess.Popen[str], window_s: float) -> float:
    """Processor time over time while one waits so long (/proc/PID/stat, user and system)."""
    before, began_s = spent_s(process.pid), time.monotonic()
    time.sleep(window_s)
    return (spent_s(process.pid) - before) / (time.monotonic() - began_s)


def spent_s(pid: int) -> float:
    after_name = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(after_name[11]) + int(after_name[12])) / TICKS_A_SECOND


def memory_mb(pid: int) -> tuple[float, float]:
    """(resident now, the most it ever was), megabytes of 1024 squared (/proc/PID/status)."""
    rows = dict(
        row.split(":", 1) for row in Path(f"/proc/{pid}/status").read_text().splitlines()
    )  # fmt: skip
    now_kb, peak_kb = (int(rows[name].split()[0]) for name in ("VmRSS", "VmHWM"))
    return now_kb / 1024, peak_kb / 1024


def command(boat: Boat, verb: str, **args: Any) -> dict[str, Any]:
    """A person's word over the control socket, without the start of a program."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as wire:
        wire.settimeout(15)
        wire.connect(str(boat.state / "control"))
        wire.sendall(json.dumps({"verb": verb, "args": args, "where": "aboard"}).encode() + b"\n")
        with wire.makefile("rb") as lines:
            answer = json.loads(lines.readline())
    assert isinstance(answer, dict)
    return answer
