"""A boat on loopback for live tests: wires, phone, syslog, and the real daemon as a process."""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, Self

from demo import night, sentences
from tests.peers import Phone, PtyPair, SentenceServer, SyslogUdp

ROOT = Path(__file__).parents[2]
SHIPKEEPER = [sys.executable, "-m", "shipkeeper.cli.main"]
ANCHOR = night.ANCHOR
FEED_CLOCK = ("--clock", "feed", "--starts", "2026-06-11T21:59:59Z")

# Tables of orders; the marks in braces are filled in by Boat.
HEAD = """
[vessel]
name = "Marren"
length = "11.4 m"
beam = "3.6 m"

[[input]]
name = "boat"
tcp = "127.0.0.1:{port}"
expect = ["position"]

[drag]
radius = "45 m"
confirm = "5 s"
"""
BUZZER = """
[[outlet]]
name = "buzzer"
terminal = {{}}
"""
PHONE = """
[[outlet]]
name = "skipper"
push = {{ urls = "{secret}", picture = false }}
from_priority = "warning"
"""
LOG = """
[[outlet]]
name = "log"
syslog = {{ address = "{syslog}" }}
"""
RECORDER = """
[recorder]
keep = "14 days"
limit = "2 GB"
"""
ORDERS = HEAD + BUZZER + PHONE + LOG + RECORDER


class Daemon:
    """One run of `shipkeeper watch`: what it prints comes as lines with their arrival."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process
        self.began_s = time.monotonic()
        self.printed: list[tuple[float, str]] = []
        self._came = threading.Condition()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            with self._came:
                self.printed.append((time.monotonic(), line.rstrip()))
                self._came.notify_all()

    def says(self, part: str, within_s: float = 60.0) -> float:
        """Monotonic time at which a line with `part` was printed."""

        def found() -> float | None:
            return next((at for at, line in self.printed if part in line), None)

        with self._came:
            self._came.wait_for(lambda: found() is not None, within_s)
            at = found()
        assert at is not None, f"{part!r} not in {[line for _, line in self.printed]}"
        return at

    def kill(self) -> None:
        """As a power cut would."""
        self.process.kill()
        self._end()

    def stop(self) -> int:
        """SIGTERM, and its exit code."""
        if self.process.poll() is None:
            self.process.terminate()
        return self._end()

    def _end(self) -> int:
        try:
            code = self.process.wait(30)
        except subprocess.TimeoutExpired:
            self.process.kill()
            code = self.process.wait(30)
        self._reader.join(5)
        if self.process.stdout is not None:
            self.process.stdout.close()
        return code


class Boat:
    """Everything about one boat in one folder; `orders` replaces the text above."""

    def __init__(self, folder: Path, orders: str = ORDERS) -> None:
        self.folder = folder
        self.server = SentenceServer()
        self.phone = Phone()
        self.syslog = SyslogUdp()
        self.ais = PtyPair(folder / "ais-port")
        secret = folder / "push-urls"
        secret.write_text(self.phone.url() + "\n")
        secret.chmod(0o600)
        self.orders = folder / "orders.toml"
        filled = orders.format(port=self.server.port, secret=secret, syslog=self.syslog.address)
        self.orders.write_text(filled)
        self.state = folder / "state"
        self.program: Sequence[str] = SHIPKEEPER

    @contextlib.contextmanager
    def watch(self, *flags: str, **environment: str) -> Iterator[Daemon]:
        """The daemon at work; ended at the end, whatever happened to it meanwhile."""
        command = [*self.program, "watch", "--orders", str(self.orders), "--state", str(self.state)]
        process = subprocess.Popen(
            [*command, *flags], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
            cwd=ROOT, env={**os.environ, **environment},
        )  # fmt: skip
        daemon = Daemon(process)
        try:
            yield daemon
        finally:
            daemon.stop()

    def order(self, *words: str) -> subprocess.CompletedProcess[str]:
        """A person's word by the command line."""
        return subprocess.run(
            [*SHIPKEEPER, *words, "--state", str(self.state)],
            capture_output=True, text=True, timeout=30, check=False, cwd=ROOT,
        )  # fmt: skip

    def ask(self, *words: str) -> dict[str, Any]:
        """The answer as data."""
        said = self.order(*words, "--json")
        assert said.stdout, said.stderr
        answer = json.loads(said.stdout)
        assert isinstance(answer, dict)
        return answer

    def journal(self) -> list[str]:
        return self.order("log", "--json").stdout.splitlines()

    def until(self, found: Callable[[], object], within_s: float = 60.0) -> Any:
        edge_s = time.monotonic() + within_s
        while True:
            result = found()
            if result or time.monotonic() > edge_s:
                assert result
                return result
            time.sleep(0.05)

    def standing(self, alert: str) -> dict[str, Any] | None:
        """The row of an alert that stands, or None."""
        said = self.order("alerts", "--json")
        rows = json.loads(said.stdout)["alerts"] if said.stdout else []
        return next((row for row in rows if row["id"] == alert), None)

    def pushed(self, part: str, within_s: float = 60.0) -> dict[str, Any]:
        """The first push message from here on that holds `part`."""
        edge_s = time.monotonic() + within_s
        while True:
            message = self.phone.next(max(0.1, edge_s - time.monotonic()))
            if part in message["title"] or part in message["message"]:
                return message

    def logged(self, part: str, within_s: float = 60.0) -> str:
        """The first syslog line from here on that holds `part`."""
        edge_s = time.monotonic() + within_s
        while True:
            text = self.syslog.next(max(0.1, edge_s - time.monotonic())).decode()
            if part in text:
                return text

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.server.go()
        self.phone.close()
        self.syslog.close()
        self.ais.close()


class Fixes:
    """A receiver that gives a fix at every beat, `north_m` from the anchor, until the end."""

    def __init__(self, boat: Boat, *, start_s: float, beat_s: float = 0.02, step_s: float = 1.0):
        self.north_m = 0.0
        self.utc_s = start_s
        self._at_m = 0.0
        self._boat, self._beat_s, self._step_s = boat, beat_s, step_s
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._send, daemon=True)

    def _send(self) -> None:
        while not self._stop.wait(self._beat_s):
            self.utc_s += self._step_s
            # No boat leaps: more than 100 m in a second would be a fault of the receiver.
            way_m = self.north_m - self._at_m
            self._at_m += max(-60.0, min(60.0, way_m))
            lat = ANCHOR.lat + self._at_m / 111_200.0
            fix = sentences.rmc(self.utc_s, lat, ANCHOR.lon, 0.1, 90.0)
            line = sentences.tagged(fix, "boat", self.utc_s)
            self._boat.server.send((line + "\r\n").encode())

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._stop.set()
        self._thread.join(5)


def drained(got: queue.Queue[Any]) -> Sequence[Any]:
    """All that is in a queue now."""
    found = []
    with contextlib.suppress(queue.Empty):
        while True:
            found.append(got.get_nowait())
    return found
