"""app/systemd.py and app/health.py: alive is said only while all parts move."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from shipkeeper.app import health as health_module
from shipkeeper.app.health import Health, feed_watchdog
from shipkeeper.app.systemd import Notifier


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[socket.socket]:
    """A notify socket as systemd has it."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as receiver:
        receiver.bind(str(tmp_path / "notify"))
        receiver.settimeout(2.0)
        yield receiver


def notifier_to(receiver: socket.socket, usec: str = "") -> Notifier:
    return Notifier(str(receiver.getsockname()), usec)


def test_the_words_are_those_of_sd_notify(manager: socket.socket) -> None:
    """READY=1 with a status line (sd_notify(3) of systemd 252); one line, whatever is in it."""
    notifier_to(manager).ready("anchored,\nno alerts")
    assert manager.recv(1000) == b"READY=1\nSTATUS=anchored, no alerts"


def test_a_fresh_start_in_the_same_process_has_its_time(manager: socket.socket) -> None:
    """Before it loads itself anew the watchdog is widened; READY=1 sets it back."""
    notifier = notifier_to(manager, "10000000")
    notifier.starting_afresh()
    assert manager.recv(1000) == b"WATCHDOG_USEC=60000000\nWATCHDOG=1"
    notifier.ready("x")
    assert manager.recv(1000) == b"READY=1\nSTATUS=x\nWATCHDOG_USEC=10000000"


def test_without_systemd_nothing_happens() -> None:
    """No NOTIFY_SOCKET, no WATCHDOG_USEC: no error, no watchdog."""
    silent = Notifier("", "")
    silent.ready("x")
    assert silent.watchdog_s is None


def test_a_manager_that_is_gone_harms_nobody(tmp_path: Path) -> None:
    """The socket is not there: the notice is lost, the watch goes on."""
    Notifier(str(tmp_path / "none"), "").alive()


def test_the_watchdog_is_fed_at_half_its_interval(manager: socket.socket) -> None:
    """At half at the latest (sd_notify(3)): with WatchdogSec of 0.4 s, ten notices a second."""
    notifier = notifier_to(manager, "400000")
    health, stop = Health(), threading.Event()
    for part in ("engine", "sounder", "store"):
        health.progress(part)
    thread = threading.Thread(target=feed_watchdog, args=(health, notifier, stop))
    began = time.monotonic()
    thread.start()
    for _ in range(5):
        assert manager.recv(1000) == b"WATCHDOG=1"
    assert 0.4 < time.monotonic() - began < 1.5
    stop.set()
    thread.join(5)


@pytest.mark.parametrize("part", ["engine", "sounder", "store"])
def test_one_part_without_progress_is_enough_to_stop_it(
    part: str, manager: socket.socket, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Engine, sounder or store hangs: no more WATCHDOG=1, and the status says which."""
    monkeypatch.setitem(health_module.LIMITS_S, part, 0.15)
    notifier = notifier_to(manager, "100000")
    health, stop = Health(), threading.Event()
    for each in ("engine", "sounder", "store"):
        health.progress(each)
    thread = threading.Thread(target=feed_watchdog, args=(health, notifier, stop))
    thread.start()
    seen = b""
    while not seen.startswith(b"STATUS"):
        seen = manager.recv(1000)
    assert seen.startswith(f"STATUS=no progress: {part}".encode())
    manager.settimeout(0.3)
    with pytest.raises(TimeoutError):
        manager.recv(1000)
    health.forget(part)
    assert manager.recv(1000) == b"WATCHDOG=1"
    stop.set()
    thread.join(5)
