"""app/level.py and app/hangs.py: a level outlet is refreshed, and holds up nobody."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable

import pytest

from shipkeeper.app import level as level_module
from shipkeeper.app.hangs import Busy, HangWatch
from shipkeeper.app.health import Health
from shipkeeper.app.level import LevelWorker, Presented
from shipkeeper.app.supervise import Supervisor
from shipkeeper.words.effects import Show, Wanted
from shipkeeper.words.wires import Aboard, EdgeOutlet, LevelOutlet

from .outlets import Bell, LevelTable, no_secret, nobody_obeys

News = list[tuple[str, bool, str]]


def worker(presented: Presented, make: type[Bell], made: list[Bell], news: News) -> LevelWorker:
    def open_() -> LevelOutlet | EdgeOutlet:
        outlet = make()
        made.append(outlet)
        return outlet

    table = LevelTable(name="bell", make=open_)
    return LevelWorker(
        table, no_secret, presented, Health(), lambda name, up, why: news.append((name, up, why)),
        Aboard("Marren", nobody_obeys), lambda outlet, wanted: None,
    )  # fmt: skip


def until(condition: Callable[[], object], timeout_s: float = 30.0) -> None:
    edge = time.monotonic() + timeout_s
    while not condition():
        assert time.monotonic() < edge
        time.sleep(0.01)


def test_it_is_shown_every_change_and_every_refresh() -> None:
    """A new outlet is shown the state at once, then each change, then the same again."""
    presented = Presented()
    made: list[Bell] = []
    news: News = []
    bell = worker(presented, Bell, made, news)
    supervisor = Supervisor()
    supervisor.start("outlet bell", bell.run, lambda ok, why: None)
    until(lambda: made and made[0].shown == ["silence"])
    presented.present(Wanted(pattern="alarm"), None)
    until(lambda: made[0].shown[-1] == "alarm")
    presented.present(None, None)
    until(lambda: made[0].shown[-2:] == ["alarm", "alarm"])
    supervisor.stop()
    assert made[0].closed == 1
    assert news == [("bell", True, "open")]


def test_a_sound_is_there_within_milliseconds() -> None:
    """From the engine's word to the outlet's show: well under the one second allowed
    (alerts.md, feature 4), also with a neighbour outlet that hangs."""
    presented = Presented()
    made: list[Bell] = []
    heard = threading.Event()
    release = threading.Event()

    class Hanging(Bell):
        def show(self, wanted: Wanted, state: Show) -> None:
            release.wait()

    class Quick(Bell):
        def show(self, wanted: Wanted, state: Show) -> None:
            if wanted.pattern == "alarm":
                heard.set()

    supervisor = Supervisor()
    for name, kind in (("a", Hanging), ("b", Quick)):
        supervisor.start(name, worker(presented, kind, made, []).run, lambda ok, why: None)
    time.sleep(0.1)
    began = time.monotonic()
    presented.present(Wanted(pattern="alarm"), None)
    assert heard.wait(10.0)
    assert time.monotonic() - began < 0.1
    release.set()
    supervisor.stop()


def test_an_outlet_that_raises_is_opened_anew() -> None:
    """The wire is lost: the supervisor tells it and opens another."""
    presented = Presented()
    made: list[Bell] = []
    told: list[str] = []

    class Broken(Bell):
        def show(self, wanted: Wanted, state: Show) -> None:
            raise OSError(5, "Input/output error")

    supervisor = Supervisor()
    supervisor.start(
        "outlet bell",
        worker(presented, Broken, made, []).run,
        lambda ok, why: told.append(why),
    )
    until(lambda: len(made) >= 2)
    assert "input/output error" in told[0]
    supervisor.stop()


def test_a_sounder_whose_thread_stands_still_is_opened_anew(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Its count of rounds does not move: it is dead, whatever `show` says."""
    monkeypatch.setattr(level_module, "DEAF_S", 0.1)
    monkeypatch.setattr(level_module, "LOOK_S", 0.05)
    presented = Presented()
    made: list[Bell] = []
    told: list[str] = []

    class Deaf(Bell):
        ticks = 3

    supervisor = Supervisor()
    supervisor.start(
        "outlet bell", worker(presented, Deaf, made, []).run, lambda ok, why: told.append(why)
    )
    until(lambda: told)
    assert "does not answer" in told[0]
    supervisor.stop()


def test_one_that_hangs_is_left_behind_and_replaced() -> None:
    """The hang watch names it, starts a fresh one, and doubles its patience."""
    presented = Presented()
    made: list[Bell] = []
    release = threading.Event()

    class HangsOnce(Bell):
        def show(self, wanted: Wanted, state: Show) -> None:
            if len(made) == 1:
                release.wait()
            super().show(wanted, state)

    supervisor = Supervisor()
    told: list[tuple[str, str]] = []
    hangs = HangWatch(supervisor, lambda name, why: told.append((name, why)))
    bell = worker(presented, HangsOnce, made, [])
    supervisor.start("outlet bell", bell.run, lambda ok, why: None)
    hangs.watch("outlet bell", bell.busy, 0.2)
    hangs.look()
    assert told == []
    time.sleep(0.3)
    hangs.look()
    assert [name for name, _ in told] == ["outlet bell"]
    until(lambda: len(made) == 2 and made[1].shown)
    assert supervisor.abandoned == ["outlet bell"]
    release.set()
    until(lambda: made[0].closed)
    supervisor.stop()


def test_a_call_left_behind_does_not_clear_the_mark_of_the_next() -> None:
    """An old thread that comes back at last leaves the newer thread's mark alone."""
    busy = Busy()
    entered, release = threading.Event(), threading.Event()

    def old() -> None:
        with busy:
            entered.set()
            release.wait()

    thread = threading.Thread(target=old)
    thread.start()
    entered.wait()
    with busy:
        release.set()
        thread.join()
        assert busy.for_s() > 0
    assert busy.for_s() == 0


def test_an_outlet_over_a_link_tells_how_the_link_stands() -> None:
    """Nothing while it is not decided; then each change once (Linked of words.wires)."""

    class Linked(Bell):
        stands: tuple[bool, str] | None = None

        def link(self) -> tuple[bool, str] | None:
            return Linked.stands

    presented = Presented()
    made: list[Bell] = []
    news: News = []
    supervisor = Supervisor()
    supervisor.start("outlet", worker(presented, Linked, made, news).run, lambda ok, why: None)
    until(lambda: made and made[0].shown)
    assert news == []
    for stands in ((False, "does not answer"), (True, "is reached")):
        Linked.stands = stands
        until(lambda: news and news[-1][1] is stands[0])  # noqa: B023  # waited for in the round
        presented.present(None, None)
    supervisor.stop()
    assert [up for _, up, _ in news] == [False, True]
