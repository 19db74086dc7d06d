"""The real daemon as a process: the whole way of an alarm, and what must not get in its way."""

from __future__ import annotations

import fcntl
import os
import signal
import socket
import stat
import subprocess
import time
from pathlib import Path

import pytest
from demo import night
from tests.live.boat import FEED_CLOCK, ROOT, SHIPKEEPER, Boat, Fixes, drained

MARK = f"{night.ANCHOR.lat},{night.ANCHOR.lon}"


def drag(boat: Boat, fixes: Fixes) -> None:
    """Anchor, then lie 200 m off the mark."""
    boat.until(lambda: boat.order("status").returncode != 3, 60.0)  # it answers by now
    boat.until(lambda: boat.ask("status")["own"]["lat"] is not None)
    assert "anchored" in boat.order("anchor", "at", MARK).stdout
    fixes.north_m = 200.0


def test_an_alarm_goes_all_the_way_and_back(tmp_path: Path) -> None:
    """From a fix on the wire to buzzer, phone and syslog; the person acknowledges; she comes
    back and it clears. By the true clock, twenty times as fast."""
    with Boat(tmp_path) as boat:
        flags = ("--time-lapse", "20", "--starts", "2026-06-11T22:00:00Z")
        with (
            Fixes(boat, start_s=night.START, beat_s=0.05) as fixes,
            boat.watch(*flags) as daemon,
        ):
            boat.server.wait(within_s=60)
            drag(boat, fixes)
            sounded = daemon.says("ANCHOR DRAGS")
            message = boat.pushed("DRAG")
            line = boat.logged('id="drag"')
            assert time.monotonic() - sounded < 5.0
            # RFC 5424: PRI of facility daemon (3) and severity critical (2) is 3 * 8 + 2 = 26.
            assert line.startswith("<26>1 2026-06-1")
            assert message["title"].startswith("ANCHOR DRAGS")
            assert " m from the mark, bearing 000" in message["message"]
            assert boat.order("alerts").returncode == 1
            assert boat.order("silence").returncode == 0
            answered = boat.order("ack", "drag")
            assert answered.returncode == 0
            assert "drag" in answered.stdout and "acknowledged" in answered.stdout
            refused = boat.order("ack", "no-such-alert")
            assert refused.returncode == 2 and refused.stderr.startswith("refused:")
            fixes.north_m = 0.0
            boat.until(lambda: boat.standing("drag") is None, 30.0)
            assert daemon.stop() == 0
        rows = "\n".join(boat.journal())
        assert '"to":"active-unacknowledged"' in rows and '"to":"active-acknowledged"' in rows
        notes = boat.order("log", "--all").stdout
        assert "command" in notes and "ack: " in notes and "buzzer up: open" in notes
        assert stat.S_IMODE((boat.state / "shipkeeper.db").stat().st_mode) & 0o002 == 0


def test_a_terminal_that_nobody_reads_and_a_phone_that_hangs_hold_up_nobody(
    tmp_path: Path,
) -> None:
    """Standard output and error are a full pipe and the push service never answers: syslog has the
    alarm in time, and `status` answers."""
    with Boat(tmp_path) as boat:
        boat.phone.manner = "hang"
        reading, writing = os.pipe()
        fcntl.fcntl(writing, fcntl.F_SETPIPE_SZ, 4096)
        os.write(writing, b"x" * 4096)
        process = subprocess.Popen(
            [*SHIPKEEPER, "watch", "--orders", str(boat.orders), "--state", str(boat.state),
             *FEED_CLOCK],
            stdout=writing, stderr=writing, cwd=ROOT,
        )  # fmt: skip
        try:
            with Fixes(boat, start_s=night.START) as fixes:
                boat.server.wait(within_s=60)
                drag(boat, fixes)
                assert boat.logged('prio="alarm" state="active-unacknowledged"')
                status = boat.ask("status")
                assert status["daemon"]["stuck"] == []
                assert status["alerts"][0]["id"] == "drag"
            process.terminate()
            assert process.wait(30) == 0
        finally:
            process.kill()
            process.wait(5)
            os.close(reading)
            os.close(writing)


def test_what_the_phone_missed_comes_when_it_is_back(tmp_path: Path) -> None:
    """The push service refuses, the daemon is killed, both come back: the message arrives."""
    with Boat(tmp_path) as boat:
        boat.phone.manner = "refuse"
        with Fixes(boat, start_s=night.START) as fixes, boat.watch(*FEED_CLOCK) as daemon:
            boat.server.wait(within_s=60)
            drag(boat, fixes)
            daemon.says("ANCHOR DRAGS")
            boat.until(
                lambda: boat.order("log", "--all").stdout.count("drag: normal -> active") == 1
            )
            daemon.kill()
        assert drained(boat.phone.got) == []
        boat.phone.manner = "take"
        with boat.watch(*FEED_CLOCK):
            assert "DRAG" in boat.pushed("DRAG")["title"]


def test_good_orders_are_taken_and_bad_ones_change_nothing(tmp_path: Path) -> None:
    """SIGHUP: with a mistake in the file the watch goes on under the old orders and a caution
    says so; with good orders the new ones stand, and watch and mark with them."""
    with Boat(tmp_path) as boat:
        good = boat.orders.read_text()
        with Fixes(boat, start_s=night.START), boat.watch(*FEED_CLOCK) as daemon:
            boat.server.wait(within_s=60)
            boat.until(lambda: boat.ask("status")["own"]["lat"] is not None)
            assert "anchored" in boat.order("anchor", "at", MARK).stdout
            boat.orders.write_text(good.replace("radius", "raduis"))
            daemon.process.send_signal(signal.SIGHUP)
            daemon.says("raduis")
            caution = boat.until(
                lambda: next((a for a in boat.ask("alerts")["alerts"] if "orders" in a["id"]), None)
            )
            assert caution["priority"] == "caution"
            assert boat.ask("status")["watch"] == "anchored"
            boat.orders.write_text(good.replace('radius = "45 m"', 'radius = "300 m"'))
            daemon.process.send_signal(signal.SIGHUP)
            daemon.says("starting afresh")
            boat.until(lambda: boat.order("status").returncode in (0, 1))
            boat.until(lambda: boat.ask("status")["own"]["lat"] is not None)
            status = boat.ask("status")
            assert status["watch"] == "anchored" and status["mark"] is not None
            assert not [a for a in status["alerts"] if "orders" in a["id"]]


def test_ready_is_told_and_the_watchdog_fed(tmp_path: Path) -> None:
    """Type=notify: READY=1 once orders and state are there, WATCHDOG=1 four times in the
    interval, STOPPING=1 at the end (sd_notify(3))."""
    with Boat(tmp_path) as boat, socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(tmp_path / "notify"))
        manager.settimeout(20.0)
        environment = {"NOTIFY_SOCKET": str(tmp_path / "notify"), "WATCHDOG_USEC": "2000000"}
        with boat.watch(*FEED_CLOCK, **environment) as daemon:
            assert manager.recv(1000).startswith(b"READY=1\nSTATUS=off, Marren")
            stamps: list[float] = []
            while len(stamps) < 3:
                if manager.recv(1000) == b"WATCHDOG=1":
                    stamps.append(time.monotonic())
            assert 0.4 < stamps[2] - stamps[1] < 2.0
            assert daemon.stop() == 0
            said = b""
            while said != b"STOPPING=1":
                said = manager.recv(1000)


@pytest.mark.parametrize(("spoil", "code"), [("orders", 2), ("second", 2), ("none", 3)])
def test_exit_codes(spoil: str, code: int, tmp_path: Path) -> None:
    """2: orders refused, or the state folder is another daemon's; 3: no daemon reached."""
    with Boat(tmp_path) as boat:
        if spoil == "none":
            assert boat.order("status").returncode == code
            return
        if spoil == "orders":
            boat.orders.write_text("[vessel]\nname = 7\n")
            with boat.watch(*FEED_CLOCK) as daemon:
                assert daemon.process.wait(20) == code
            return
        with boat.watch(*FEED_CLOCK) as first:
            first.says("watches for Marren")
            with boat.watch(*FEED_CLOCK) as second:
                second.says("another shipkeeper keeps")
                assert second.process.wait(20) == code
