"""app/daemon.py: what happens when the engine itself falls, and at the loop's other ends."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipkeeper.app import daemon as daemon_module
from shipkeeper.app.clock import Clock
from shipkeeper.app.daemon import Daemon
from shipkeeper.app.run import Replay, run
from shipkeeper.words.effects import Effect
from shipkeeper.words.events import Event, Line, Tick

from .outlets import NIGHT_S


class Falls:
    """An engine with a bug."""

    def handle(self, event: Event) -> list[Effect]:
        raise ZeroDivisionError("a bug of ours")

    def next_deadline(self) -> float | None:
        return None


class Notes:
    """A sink that writes down."""

    def __init__(self) -> None:
        self.said: list[str] = []

    def before(self, event: Event) -> None:
        self.said.append(f"before {event.at_s:g}")

    def after(self, event: Event, effects: list[Effect]) -> None:
        self.said.append(f"after {event.at_s:g}")


class Counts:
    def __init__(self) -> None:
        self.seen: list[Event] = []

    def handle(self, event: Event) -> list[Effect]:
        self.seen.append(event)
        return []

    def next_deadline(self) -> float | None:
        return None


def test_an_engine_that_raises_is_heard_and_ended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The fault pattern is presented, the traceback logged, the run marked as failed."""
    monkeypatch.setattr(daemon_module, "FAULT_SOUNDS_S", 0.0)
    daemon = Daemon(tmp_path / "orders.toml", tmp_path, tmp_path / "control", Clock())
    daemon.inbox.lines("boat", ["$GPRMC"])
    notes = Notes()
    daemon._run(Falls(), notes)  # type: ignore[arg-type]  # as the loop sees an engine and a sink
    assert daemon.failed and not daemon.again
    seen = daemon.presented.newer(-1, 0.0)
    assert seen is not None and seen[1].pattern == "fault"
    assert "a bug of ours" in capsys.readouterr().err
    assert len(notes.said) == 1, "the event was recorded before the engine fell"


def test_the_loop_is_the_same_for_a_recording() -> None:
    """Events in order; each is noted before and after the engine has it; then the end."""
    events: list[Event] = [Line(NIGHT_S, "boat", "x"), Tick(NIGHT_S + 1)]
    core, notes = Counts(), Notes()
    run(core, Replay(events), notes)
    assert core.seen == events
    assert [word.split()[0] for word in notes.said] == ["before", "after", "before", "after"]
