"""app/outbox.py: every message arrives, none twice without need, no flood, none blocks."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import msgspec
import pytest

from shipkeeper.app import lane
from shipkeeper.app.clock import Clock
from shipkeeper.app.fold import LISTED, fold
from shipkeeper.app.outbox import EdgeWorker
from shipkeeper.words.alert import Priority
from shipkeeper.words.effects import Message
from shipkeeper.words.wires import EdgeOutlet

from .outlets import NIGHT_S, Letterbox, MachineTable, Table, message, no_secret


class Running:
    """An edge worker in a thread of its own."""

    def __init__(self, table: Callable[..., Table]) -> None:
        self.box = Letterbox()
        self.paid: list[str] = []
        self.news: list[tuple[bool, str]] = []
        self.worker = EdgeWorker(
            table(name="phone", make=lambda: self.box),
            no_secret,
            Clock(starts_s=NIGHT_S),
            lambda name, up, why: self.news.append((up, why)),
            self._paid,
        )
        self.stop = threading.Event()
        self.thread = threading.Thread(target=self.worker.run, args=(self.stop,))

    def _paid(self, ids: Sequence[str]) -> None:
        self.paid += ids

    def start(self) -> None:
        self.thread.start()

    def end(self) -> None:
        self.box.hold.set()
        self.stop.set()
        self.thread.join(5)
        assert not self.thread.is_alive()


@pytest.fixture
def person() -> Iterator[Running]:
    running = Running(Table)
    yield running
    running.end()


@pytest.fixture
def machine() -> Iterator[Running]:
    running = Running(MachineTable)
    yield running
    running.end()


@pytest.fixture(autouse=True)
def short_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pauses shrunk so that the tests are short."""
    monkeypatch.setattr(lane, "FIRST_PAUSE_S", 0.05)
    monkeypatch.setattr(lane, "MOST_PAUSE_S", 0.1)


def test_a_message_is_delivered_once_and_its_delivery_handed_back(person: Running) -> None:
    """Offered from memory and again when committed: it goes out once; the store hears of it."""
    person.start()
    person.worker.offer([message(1)])
    assert person.box.wait_for(1)
    person.worker.offer([message(1)])
    time.sleep(0.1)
    assert [m.id for m in person.box.got] == ["m1"]
    assert person.paid == ["m1"]
    assert person.news == [(True, "delivers")]


def test_fresh_messages_go_one_by_one_the_most_urgent_first(person: Running) -> None:
    """Five at once with the link up: five messages, the alarm ahead of the warnings."""
    urgent = message(5, priority=Priority.ALARM)
    person.worker.offer([*(message(n) for n in range(1, 5)), urgent])
    person.start()
    assert person.box.wait_for(5)
    assert [m.id for m in person.box.got] == ["m5", "m1", "m2", "m3", "m4"]


@pytest.mark.parametrize("count", [4, 1000])
def test_a_backlog_of_any_size_is_at_most_three_pushes(count: int, person: Running) -> None:
    """Down for a while: when the link is back the most urgent comes alone, then one list with
    all the rest; everything counts as delivered."""
    person.box.link_up = False
    person.start()
    person.worker.offer([message(0)])
    while not person.news:
        time.sleep(0.01)
    person.worker.offer(
        [
            message(n, priority=Priority.ALARM if n == 2 else Priority.WARNING)
            for n in range(1, count)
        ]
    )
    time.sleep(0.1)
    person.box.link_up = True
    assert person.box.wait_for(2)
    time.sleep(0.3)
    first, rest = person.box.got
    assert first.id == "m2"
    assert rest.text.startswith(f"{count - 1} messages of 22:00 to 22:00 UTC:")
    assert rest.line.startswith(f"{count - 1} messages")
    assert sorted(person.paid) == sorted(f"m{n}" for n in range(count))
    assert person.news == [(False, "the link is down"), (True, "delivers")]


def test_what_an_earlier_run_left_counts_as_backlog(person: Running) -> None:
    """Twenty owed from before the restart: two pushes, the first dated as late."""
    person.worker.offer([message(n, at_s=NIGHT_S - 7200.0) for n in range(20)], old=True)
    person.start()
    assert person.box.wait_for(2)
    time.sleep(0.2)
    assert len(person.box.got) == 2
    assert person.box.got[0].text.startswith("LATE: happened at 22:00 UTC, 2 h ago. ")


def test_a_fresh_alarm_does_not_wait_for_a_long_pause(
    person: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the pause after a failure a new message is tried at once, a second after the last."""
    monkeypatch.setattr(lane, "MOST_PAUSE_S", 60.0)
    monkeypatch.setattr(lane, "FIRST_PAUSE_S", 0.05)
    person.box.link_up = False
    person.worker.offer([message(1)])
    person.start()
    time.sleep(1.5)  # by now the pause is over a second
    person.box.link_up = True
    began = time.monotonic()
    person.worker.offer([message(2, priority=Priority.ALARM)])
    assert person.box.wait_for(1, 1.0)
    assert time.monotonic() - began < 0.5


def test_one_message_that_always_fails_does_not_block_a_log(machine: Running) -> None:
    """A machine gets all the others in order while one is refused again and again."""
    machine.box.poison = "T2"
    machine.worker.offer([message(n) for n in range(1, 6)])
    machine.start()
    assert machine.box.wait_for(4)
    assert [m.id for m in machine.box.got] == ["m1", "m3", "m4", "m5"]
    machine.box.poison = ""
    assert machine.box.wait_for(5)


def test_one_message_that_always_fails_does_not_block_a_person(person: Running) -> None:
    """The most urgent of a backlog is refused for its own sake: the list still comes."""
    person.box.poison = "T3"
    owed = [message(n, priority=Priority(3 if n == 3 else 2)) for n in range(1, 7)]
    person.worker.offer(owed, old=True)
    person.start()
    assert person.box.wait_for(1)
    assert "T3" in person.box.got[0].text
    assert len(person.paid) == 6


def test_a_machine_is_told_everything(machine: Running) -> None:
    """A log of fifty is fifty lines, in order, undated: they carry their own time."""
    machine.worker.offer([message(n, at_s=NIGHT_S - 7200) for n in range(50)], old=True)
    machine.start()
    assert machine.box.wait_for(50)
    assert [m.id for m in machine.box.got] == [f"m{n}" for n in range(50)]
    assert not any("LATE" in m.text for m in machine.box.got)


def test_a_delivery_that_hangs_can_be_left_and_its_message_goes_again(person: Running) -> None:
    """A second thread of the same worker takes over; the busy mark names how long it hung."""
    person.box.hold.clear()
    person.worker.offer([message(1)])
    person.start()
    time.sleep(0.2)
    assert 0.1 < person.worker.busy.for_s() < 2.0
    person.worker.busy.forget()
    fresh = Letterbox()
    person.stop.set()
    person.worker.table = Table(name="phone", make=lambda: fresh)
    stop = threading.Event()
    second = threading.Thread(target=person.worker.run, args=(stop,))
    second.start()
    assert fresh.wait_for(1)
    person.box.hold.set()
    stop.set()
    second.join(5)
    assert [m.id for m in fresh.got] == ["m1"]


class Heiress(Letterbox):
    """One that wants to know which came before it."""

    before: object = None

    def follow(self, before: EdgeOutlet) -> None:
        self.before = before


def test_an_outlet_opened_anew_is_told_of_the_one_before(machine: Running) -> None:
    boxes = [Heiress(), Heiress()]
    opened = iter(boxes)
    machine.worker.table = MachineTable(name="log", make=lambda: next(opened))
    ended = threading.Event()
    ended.set()
    machine.worker.run(ended)
    machine.start()
    machine.worker.offer([message(1)])
    assert boxes[1].wait_for(1)
    assert [box.before for box in boxes] == [None, boxes[0]]


def news(number: int, event: str, minute: int, **more: Any) -> Message:
    at = f"2026-06-12T01:{minute:02}:00.000Z"
    at_s = NIGHT_S + 60.0 * minute
    fields = {"about": f"T{number}", "number": number, "event": event, "at": at, "at_s": at_s}
    return msgspec.structs.replace(message(1000 * number + minute), **fields, **more)


def test_a_list_has_one_line_for_each_alert_and_leaves_out_the_least_urgent() -> None:
    """Repeats of one alarm do not push out an alarm that was raised before them."""

    grave = news(1, "raised", 1, priority=Priority.ALARM)
    repeats = [news(2, "repeat", minute) for minute in range(3, 50)]
    listed = fold([grave, news(2, "raised", 2), *repeats, news(2, "cleared", 50)])
    _, first, second = listed.text.splitlines()
    assert first.startswith("01:01 raised: ") and first.endswith("ref 1.1")
    assert second.startswith("01:02 raised: ") and second.endswith("(cleared 01:50) ref 2.1")
    many = fold([grave, *(news(n, "raised", n) for n in range(2, 59))])
    lines = many.text.splitlines()
    assert lines[1] == f"{58 - LISTED} less urgent ones are in the journal"
    assert lines[2] == first and len(lines) == LISTED + 2


def test_who_else_was_on_a_list_is_named() -> None:
    """'2 together' without the second name would hide a ship."""
    text = "2 together: BRAMBLE is in the guard zone. Also: SHAG, TEAL."
    line = "2 together. WARNING: BRAMBLE is in the guard zone."
    one = news(1, "raised", 1, text=text, line=line)
    said = fold([one, news(1, "repeat", 3), news(2, "raised", 5)]).text.splitlines()
    assert "BRAMBLE is in the guard zone. Also: SHAG, TEAL. (repeat 01:03)" in said[1]
    assert "Also" not in said[2]
    many = ", ".join(f"VESSEL {n}" for n in range(40))
    crowd = news(3, "raised", 1, text=f"41 together: X. Also: {many}.", line="41 together. X.")
    told = fold([crowd, news(2, "raised", 5)]).text.splitlines()[1]
    assert "VESSEL 0, VESSEL 1," in told and "and more." in told and len(told) < 300


def test_of_a_list_under_one_name_each_that_led_it_is_told() -> None:
    """Two ships led the list of one zone in turn: the second raise must not hide in the first's
    line. And a second raise of one alert is named beside the first."""
    first, other = news(1, "raised", 1), news(2, "raised", 5)
    other = msgspec.structs.replace(other, about=first.about)
    worse = msgspec.structs.replace(news(1, "raised", 9), id="worse")
    lines = fold([first, other, worse, news(1, "repeat", 12)]).text.splitlines()[1:]
    assert [line.partition(" raised: ")[0] for line in lines] == ["01:01, 01:09", "01:05"]
    assert lines[0].endswith("(repeat 01:12) ref 1.1") and lines[1].endswith("ref 2.1")
