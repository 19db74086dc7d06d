"""app/supervise.py: no worker dies quietly, none keeps the house from leaving."""

from __future__ import annotations

import threading
import time

import pytest

from shipkeeper.app import supervise
from shipkeeper.app.supervise import Supervisor, reason

Told = list[tuple[bool, str]]


@pytest.fixture(autouse=True)
def short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    """Real threads, but a second shrunk to hundredths so that the test is short."""
    monkeypatch.setattr(supervise, "FIRST_PAUSE_S", 0.02)
    monkeypatch.setattr(supervise, "HEALTHY_AFTER_S", 0.15)


def until(condition: threading.Event) -> None:
    assert condition.wait(30.0)


def test_a_worker_that_raises_is_told_and_started_again() -> None:
    """The engine hears why it died; it runs again; once it has lived a while, that too."""
    told: Told = []
    well, runs = threading.Event(), []

    def body(stop: threading.Event) -> None:
        runs.append(1)
        if len(runs) < 3:
            raise RuntimeError("boom\nsecond line")
        stop.wait()

    def tell(ok: bool, why: str) -> None:
        told.append((ok, why))
        if ok:
            well.set()

    supervisor = Supervisor()
    worker = supervisor.start("store", body, tell)
    until(well)
    assert [ok for ok, _ in told] == [False, False, True]
    assert told[0][1].startswith("RuntimeError: boom; starting again")
    assert (worker.deaths, len(runs)) == (2, 3)
    assert supervisor.stop() == []
    assert not worker.alive


def test_a_worker_that_ends_unasked_counts_as_dead() -> None:
    """Returning is dying, unless the worker may end (a recording that is over)."""
    told, dead = [], threading.Event()

    def tell(ok: bool, why: str) -> None:
        told.append(why)
        dead.set()

    supervisor = Supervisor()
    supervisor.start("outlet phone", lambda stop: None, tell)
    ending = supervisor.start("recording", lambda stop: None, tell, may_end=True)
    until(dead)
    assert "ended without being asked" in told[0]
    assert ending.wait(30.0)
    assert ending.deaths == 0
    supervisor.stop()


def test_a_worker_that_hangs_is_left_behind_by_name() -> None:
    """Stop waits two seconds in all, not for each, and names who stayed."""
    hang = threading.Event()
    supervisor = Supervisor()
    for name in ("input gnss", "outlet phone"):
        supervisor.start(name, lambda stop: hang.wait(), lambda ok, why: None)
    supervisor.start("good", lambda stop: stop.wait(), lambda ok, why: None)
    began = time.monotonic()
    left = supervisor.stop(within_s=0.3)
    assert time.monotonic() - began < 2.0
    assert sorted(left) == ["input gnss", "outlet phone"] == sorted(supervisor.abandoned)
    hang.set()


def test_one_worker_dying_leaves_the_others_alone() -> None:
    """A worker that raises again and again does not slow another's beat."""
    beats = []

    def steady(stop: threading.Event) -> None:
        while not stop.wait(0.01):
            beats.append(1)

    def bad(stop: threading.Event) -> None:
        raise ValueError

    supervisor = Supervisor()
    supervisor.start("bad", bad, lambda ok, why: None)
    supervisor.start("steady", steady, lambda ok, why: None)
    time.sleep(0.4)
    supervisor.stop()
    assert len(beats) > 15


def test_reasons_are_for_people() -> None:
    """An OS error gives its plain text, without paths or numbers."""
    assert reason(OSError(28, "No space left on device", "/secret/path")) == (
        "no space left on device"
    )
    assert reason(KeyError()) == "KeyError"
