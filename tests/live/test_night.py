"""The demo's night through the real daemon: live equals rehearsal, and kills lose nothing."""

from __future__ import annotations

import json
import queue
import random
import signal
import subprocess
import threading
import time
from pathlib import Path
from typing import Any

import pytest
from demo import night, show
from demo.sentences import tagged

PACE = 330.0


class Quiet(show.Printer):
    """Prints nothing; keeps what came."""

    def __init__(self, lines: queue.Queue[show.Line]) -> None:
        super().__init__(lines)
        self.kept: list[show.Line] = []

    def flush(self) -> None:
        while True:
            try:
                self.kept.append(self.lines.get_nowait())
            except queue.Empty:
                return


@pytest.fixture(scope="module")
def heard() -> list[night.Heard]:
    return night.night()


@pytest.mark.timeout(240)
def test_a_live_night_and_its_rehearsal_are_the_same(
    tmp_path: Path, heard: list[night.Heard]
) -> None:
    """The JSON lines of the daemon's journal equal those of rehearsing its own recording,
    with a skipper acknowledging in between; every truth of the night is raised, and no more."""
    part = [h for h in heard if h.utc_s < night.START + 3.3 * 3600]
    lines: queue.Queue[show.Line] = queue.Queue()
    wires = show.Wires()
    receiver = show.phone(lines)
    orders = show.orders_for(tmp_path, wires, receiver.server_port, show.syslog(lines))
    printer = Quiet(lines)
    with show.daemon(orders, tmp_path, lines):
        wires.wait(30)
        printer.skipper = show.Skipper(orders, tmp_path, lines)
        threading.Timer(20, printer.skipper.ring).start()
        show.play(part, wires, PACE, orders, tmp_path, printer)
        time.sleep(1.5)
    printer.flush()
    live = show.order(orders, tmp_path, "log", "--json").splitlines()
    recordings = sorted(map(str, (tmp_path / "recordings").iterdir()))
    rehearsed = subprocess.run(
        [*show.shipkeeper(), "rehearse", "--json", *recordings],
        capture_output=True, text=True, check=True, timeout=120,
    ).stdout.splitlines()  # fmt: skip
    assert live == rehearsed[:-1]
    assert json.loads(rehearsed[-1])["summary"]["transitions"] == len(live)
    raised = {(row["kind"], row["mmsi"]) for row in show.raised_from("\n".join(live))}
    assert ("zone", 299000347) in raised
    assert ("feed", None) in raised
    assert not any(mmsi == 299000211 for _, mmsi in raised), "the neighbour was there before"
    origins = {origin for origin, _ in printer.kept}
    assert {"watch", "phone", "syslog"} <= origins


@pytest.mark.timeout(240)
def test_kill_9_loses_no_alert_no_mark_and_no_acknowledgement(tmp_path: Path) -> None:
    """Killed at random moments around an alarm: after each restart it sounds within 5 s if it
    was unanswered, the watch and mark are there, and an acknowledgement that was confirmed
    stands. The short form of the campaign in tests/faults."""
    rng = random.Random(11)
    lines: queue.Queue[show.Line] = queue.Queue()
    wires = show.Wires()
    receiver = show.phone(lines)
    orders = show.orders_for(tmp_path, wires, receiver.server_port, show.syslog(lines))
    utc_s = night.START
    acknowledged = False
    for round_ in range(6):
        with show.daemon(orders, tmp_path, lines) as process:
            feeder = threading.Event()
            away = 0.0 if round_ == 0 else 0.002  # degrees: two hundred metres

            def feed(begin_s: float, off: float, stop: threading.Event) -> None:
                from demo import sentences

                for step in range(100_000):
                    if stop.is_set():
                        return
                    at_s = begin_s + step
                    fix = sentences.rmc(at_s, night.ANCHOR.lat + off, night.ANCHOR.lon, 0.1, 90.0)
                    wires.send("boat", (tagged(fix, "boat", at_s) + "\r\n").encode())
                    time.sleep(0.01)

            thread = threading.Thread(target=feed, args=(utc_s, away, feeder), daemon=True)
            thread.start()
            try:
                wanted = "off" if round_ == 0 else "anchored"
                status = _status(orders, tmp_path, wanted)
                assert status["watch"] == wanted
                if round_ == 0:
                    place = night.ANCHOR
                    order = ("anchor", "at", f"{place.lat},{place.lon}", "--rode", "40 m",
                             "--depth", "6 m")  # fmt: skip
                    assert "anchored" in show.order(orders, tmp_path, *order)
                else:
                    row = _standing(orders, tmp_path, "drag")
                    assert row["state"].endswith("acknowledged")
                    assert (row["state"] == "active-acknowledged") is acknowledged
                    mark = _status(orders, tmp_path, wanted)["mark"]
                    assert abs(mark["lat"] - night.ANCHOR.lat) < 1e-6
                if round_ == 3:
                    assert "acknowledged" in show.order(orders, tmp_path, "ack", "drag")
                    acknowledged = True
                time.sleep(rng.uniform(0.0, 0.5))
                process.send_signal(signal.SIGKILL)
                process.wait(5)
            finally:
                feeder.set()
                thread.join(2)
            utc_s += 30.0


def _status(orders: Path, state: Path, watch: str) -> dict[str, Any]:
    """Status, once the daemon answers."""
    edge = time.monotonic() + 15
    while True:
        said = show.order(orders, state, "status", "--json")
        try:
            status: dict[str, Any] = json.loads(said)
        except ValueError:
            status = {}
        if status.get("watch") == watch or time.monotonic() > edge:
            return status
        time.sleep(0.1)


def _standing(orders: Path, state: Path, alert: str) -> dict[str, str]:
    """The alert's row, once it stands."""
    edge = time.monotonic() + 15
    while True:
        said = show.order(orders, state, "alerts", "--json")
        try:
            rows = [row for row in json.loads(said)["alerts"] if row["id"] == alert]
        except (ValueError, KeyError):
            rows = []
        if rows or time.monotonic() > edge:
            assert rows, said
            row: dict[str, str] = rows[0]
            return row
        time.sleep(0.1)
