"""The machine sleeps under the real daemon: what nobody watched is told, nothing else is.

SIGSTOP holds the whole process as a suspended machine does: the kernel's clock goes on, sockets
fill up, and everything that was due comes late. Twenty times as fast as life.
"""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from demo import night
from tests.live.boat import Boat, Daemon, Fixes

MARK = f"{night.ANCHOR.lat},{night.ANCHOR.lon}"
RATE = 20
ASLEEP_S = 6.0  # two minutes of the boat's


def sleep(daemon: Daemon, for_s: float) -> None:
    os.kill(daemon.process.pid, signal.SIGSTOP)
    time.sleep(for_s)
    os.kill(daemon.process.pid, signal.SIGCONT)


def rows(boat: Boat) -> dict[str, dict[str, object]]:
    return {row["id"]: row for row in boat.ask("alerts")["alerts"]}


def test_what_was_not_watched_is_told_and_nothing_else(tmp_path: Path) -> None:
    """Asleep while a drag stands unanswered: one alarm of its own for the gap, none from old fixes
    or from the silence that nobody could hear, and the drag is neither lost nor raised again."""
    with Boat(tmp_path) as boat:
        flags = ("--time-lapse", str(RATE), "--starts", "2026-06-11T22:00:00Z")
        with (
            Fixes(boat, start_s=night.START, beat_s=0.05) as fixes,
            boat.watch(*flags) as daemon,
        ):
            boat.server.wait(within_s=60)
            boat.until(lambda: boat.ask("status")["own"]["lat"] is not None)
            assert "anchored" in boat.order("anchor", "at", MARK).stdout
            fixes.north_m = 200.0
            boat.until(lambda: "drag" in rows(boat))
            before = rows(boat)["drag"]
            sleep(daemon, ASLEEP_S)
            boat.until(lambda: "self:gap" in rows(boat))
            time.sleep(1.0)
            after = rows(boat)
            assert set(after) == {"self:gap", "drag"}, after
            assert after["drag"]["occurrence"] == before["occurrence"] == 1
            assert after["drag"]["state"] == "active-unacknowledged"
            told = str(after["self:gap"]["text"])
            assert "Not watched from 22:" in told and "No eye was kept by: drag" in told
            assert boat.order("ack", "self:gap").returncode == 0
            assert boat.order("ack", "drag").returncode == 0
            assert daemon.stop() == 0
        lines = [line for line in boat.journal() if '"reason":"condition"' in line]
        raised = [line for line in lines if '"to":"active-unacknowledged"' in line]
        assert sum('"alert":"drag"' in line for line in raised) == 1
        assert sum('"alert":"self:gap"' in line for line in raised) == 1
        assert len(raised) == 2, raised
