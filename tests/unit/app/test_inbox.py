"""app/inbox.py: stamps under the lock, bounded, never drops what matters."""

from __future__ import annotations

import threading
import time

import pytest

from shipkeeper.app.braid import QUIET_S
from shipkeeper.app.clock import Clock, FeedClock
from shipkeeper.app.inbox import Inbox, LineSink
from shipkeeper.feed.tagblock import make_tag
from shipkeeper.words.events import (
    Command,
    ContactNews,
    Event,
    InputNews,
    Line,
    OutletNews,
    StoreNews,
    Tick,
    WorkerNews,
)

GGA = b"$GPGGA,092725.00,4717.11399,N,00833.91590,E,1,08,1.01,499.6,M,48.0,M,,*5B\r\n"


def drain(inbox: Inbox) -> list[Event]:
    inbox.close()
    found = []
    while (event := inbox.next(None)) is not None:
        found.append(event)
    return found


def test_stamp_order_is_queue_order() -> None:
    """Four threads put at once: the stamps that come out never fall."""
    inbox = Inbox(Clock())

    def put(name: str) -> None:
        for number in range(500):
            inbox.lines(name, [f"{name} {number}"])
            inbox.put(lambda at_s: InputNews(at_s, name, True))

    threads = [threading.Thread(target=put, args=(f"in{n}",)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    events = drain(inbox)
    assert len(events) == 4000
    stamps = [event.at_s for event in events]
    assert stamps == sorted(stamps)


def test_a_tick_comes_at_the_deadline() -> None:
    """With nothing to do, the wait ends at the deadline with a tick stamped not before it."""
    clock = Clock()
    deadline_s = clock.now_s() + 0.1
    tick = Inbox(clock).next(deadline_s)
    assert type(tick) is Tick
    assert deadline_s <= tick.at_s < deadline_s + 0.5


def test_a_tick_never_overtakes_a_waiting_line() -> None:
    """A deadline long past, and a line waiting: the line comes first."""
    clock = Clock()
    inbox = Inbox(clock)
    inbox.lines("a", ["x"])
    first = inbox.next(clock.now_s() - 10.0)
    second = inbox.next(clock.now_s() - 10.0)
    assert first is not None and second is not None
    assert (type(first), type(second)) == (Line, Tick)
    assert first.at_s <= second.at_s


def test_a_waiting_taker_is_woken() -> None:
    """An event that comes during the wait ends it."""
    inbox = Inbox(Clock())
    threading.Timer(0.05, lambda: inbox.input_news("gnss", False, "unplugged")).start()
    began = time.monotonic()
    event = inbox.next(None)
    assert isinstance(event, InputNews) and event.why == "unplugged"
    assert time.monotonic() - began < 2.0


GLL = "$GPGLL,,,,,,V,N*64"
WIND = "$WIMWV,045.0,R,12.6,N,A*2C"


def dozing(monkeypatch: pytest.MonkeyPatch, deadline_s: float | None) -> tuple[Inbox, Waiter]:
    """An inbox whose taker has had a line, and dozes by now for far longer than the test."""
    monkeypatch.setattr("shipkeeper.app.inbox.DOZE_S", 600.0)
    inbox = Inbox(Clock())
    inbox.lines("boat", [WIND])
    assert isinstance(inbox.next(None), Line)
    waiter = Waiter(inbox, deadline_s)
    while not inbox._dozes:
        time.sleep(0.001)
    return inbox, waiter


class Waiter(threading.Thread):
    """Takes one event."""

    def __init__(self, inbox: Inbox, deadline_s: float | None) -> None:
        super().__init__(daemon=True)
        self._inbox, self._deadline_s = inbox, deadline_s
        self.event: Event | None = None
        self.start()

    def run(self) -> None:
        self.event = self._inbox.next(self._deadline_s)

    def got(self) -> Event | None:
        self.join(30.0)
        assert not self.is_alive()
        return self.event


def test_a_line_that_decides_nothing_does_not_wake_one_who_dozes(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """It waits, stamped when it came; the next fix wakes the taker, and comes behind it."""
    inbox, waiter = dozing(monkeypatch, None)
    inbox.lines("boat", [WIND])
    came_s = inbox.clock.now_s()
    time.sleep(0.1)
    assert waiter.event is None
    inbox.lines("gnss", [GLL])
    first, second = waiter.got(), inbox.next(None)
    assert isinstance(first, Line) and (first.text, first.at_s <= came_s) == (WIND, True)
    assert isinstance(second, Line) and second.text == GLL


def test_news_and_the_deadline_wake_one_who_dozes(monkeypatch: pytest.MonkeyPatch) -> None:
    inbox, waiter = dozing(monkeypatch, None)
    inbox.command("silence", {})
    assert isinstance(waiter.got(), Command)
    inbox, waiter = dozing(monkeypatch, Clock().now_s() + 0.2)
    inbox.lines("boat", [WIND])
    assert isinstance(waiter.got(), Line)


def test_overload_drops_the_oldest_lines_of_the_fullest_input_and_says_so() -> None:
    """A flood of one wire costs its own oldest lines; another's lines, commands and news stay."""
    inbox = Inbox(Clock(), max_lines=100)
    inbox.lines("gnss", [f"g{n}" for n in range(10)])
    inbox.command("silence", {})
    inbox.contact("bilge float", True)
    inbox.lines("ais", [f"a{n}" for n in range(1000)])
    inbox.store_news(False, "disk full")
    inbox.outlet_news("phone", False)
    events = drain(inbox)
    lines = [e for e in events if isinstance(e, Line)]
    assert len(lines) == 100
    assert [e.text for e in lines if e.input == "gnss"] == [f"g{n}" for n in range(10)]
    assert [e.text for e in lines if e.input == "ais"] == [f"a{n}" for n in range(910, 1000)]
    for kind in (Command, ContactNews, StoreNews, OutletNews):
        assert [type(e) for e in events].count(kind) == 1
    news = [e for e in events if isinstance(e, WorkerNews)]
    assert [n.ok for n in news] == [False]
    assert "910 lines dropped" in news[0].why
    assert inbox.dropped == 910
    assert [e.at_s for e in events] == sorted(e.at_s for e in events)


def test_the_end_of_dropping_is_told_too() -> None:
    """A minute without a drop: the engine hears that it keeps up again."""
    inbox = Inbox(Clock(rate=1000.0), max_lines=5)
    inbox.lines("ais", [str(n) for n in range(9)])
    told = inbox.next(0.0)
    assert isinstance(told, WorkerNews) and not told.ok
    time.sleep(0.1)
    seen = [inbox.next(0.0) for _ in range(7)]
    assert [e.ok for e in seen if isinstance(e, WorkerNews)] == [True]


def test_commands_are_numbered_before_they_can_be_answered() -> None:
    """The number is known to the asker before the engine sees the command."""
    inbox = Inbox(Clock())
    known: list[int] = []
    number = inbox.command("ack", {"id": "drag"}, who="ann", asked=known.append)
    event = inbox.next(None)
    assert isinstance(event, Command)
    assert known == [number] == [event.number]
    assert (event.verb, event.args, event.who) == ("ack", {"id": "drag"}, "ann")


def test_bytes_are_framed_per_input() -> None:
    """A sentence in shards comes out once; two wires do not mix; a datagram ends its line."""
    inbox = Inbox(Clock())
    one, two = LineSink(inbox, "one"), LineSink(inbox, "two")
    one.data(GGA[:20])
    two.data(GGA[:30])
    one.data(GGA[20:])
    two.data(GGA[30:-2], whole=True)
    events = [e for e in drain(inbox) if isinstance(e, Line)]
    assert [(e.input, e.text) for e in events] == [
        ("one", GGA.decode().strip()),
        ("two", GGA.decode().strip()),
    ]


def test_a_broken_wire_does_not_glue_halves() -> None:
    """Half a sentence before the wire broke is not joined to what comes after."""
    inbox = Inbox(Clock())
    sink = LineSink(inbox, "gnss")
    sink.data(GGA[:40])
    sink.news(False, "closed by the other side")
    sink.news(True)
    sink.data(GGA[40:] + GGA)
    lines = [e.text for e in drain(inbox) if isinstance(e, Line)]
    assert lines[-1] == GGA.decode().strip()
    assert all(len(text) < len(GGA) for text in lines)


def test_the_feed_clock_stamps_by_the_tag_blocks() -> None:
    """With the demo's clock a line carries the stamp of its own TAG block, never going back."""
    night_s = 1_781_215_200.0
    inbox = Inbox(FeedClock(night_s))
    sent = (night_s + 5000.0, night_s + 6000.5, night_s + 5500.0)
    texts = [make_tag("boat", s) + GGA.decode().strip() for s in sent]
    inbox.lines("boat", texts)
    stamps = [e.at_s for e in drain(inbox)]
    assert sent[0] <= stamps[0] < sent[0] + 1.0
    assert sent[1] <= stamps[1] <= stamps[2] < sent[1] + 1.0


def test_wires_of_a_played_feed_are_woven_by_their_stamps() -> None:
    """One wire runs ahead of another by minutes of the night: its lines wait for the other's,
    and come out in the order of their stamps; a wire gone quiet is not waited for."""
    night_s = 1_781_215_200.0
    inbox = Inbox(FeedClock(night_s))

    def line(wire: str, second: float) -> str:
        return make_tag(wire, night_s + second) + GGA.decode().strip()

    inbox.lines("boat", [line("boat", 1.0)])
    inbox.lines("ais", [line("ais", s) for s in (30.5, 60.5, 90.5)])
    for second in range(10, 100, 10):
        inbox.lines("boat", [line("boat", float(second))])
    got: list[Line] = []
    while len(got) < 13:
        event = inbox.next(None)
        assert isinstance(event, Line)
        got.append(event)
    sent = [1.0, 10, 20, 30, 30.5, 40, 50, 60, 60.5, 70, 80, 90, 90.5]
    late_s = [e.at_s - night_s - s for e, s in zip(got, sent, strict=True)]
    assert min(late_s) >= 0.0 and max(late_s[:-1]) < 1.0 and late_s[-1] < QUIET_S + 1.0
    assert [n for n, e in enumerate(got) if e.input == "ais"] == [4, 8, 12]


def test_a_wire_of_a_played_feed_that_is_held_up_is_waited_for_and_one_that_is_down_is_not() -> (
    None
):
    """A thread that gets no turn for half a second on a busy machine must not seem silent."""
    night_s = 1_781_215_200.0
    inbox = Inbox(FeedClock(night_s))

    def line(wire: str, second: float) -> str:
        return make_tag(wire, night_s + second) + GGA.decode().strip()

    inbox.lines("boat", [line("boat", 1.0)])
    inbox.lines("ais", [line("ais", 1.5)])
    first = inbox.next(None)
    assert isinstance(first, Line) and first.input == "boat"
    time.sleep(0.5)
    inbox.lines("boat", [line("boat", 600.0)])
    second = inbox.next(None)
    assert isinstance(second, Line) and second.input == "ais"
    assert type(inbox.next(night_s + 1.6)) is Tick, "the minutes ahead wait"
    inbox.input_news("ais", False, "gone")
    events = [inbox.next(None), inbox.next(None)]
    assert {type(event) for event in events} == {Line, InputNews}


def test_a_played_feed_waits_and_loses_nothing() -> None:
    """With the feed's clock, a feed faster than the engine is held back, not dropped."""
    inbox = Inbox(FeedClock(1000.0), max_lines=20)

    def play() -> None:
        for number in range(200):
            inbox.lines("boat", [str(number)])

    player = threading.Thread(target=play)
    player.start()
    got: list[str] = []
    while len(got) < 200:
        event = inbox.next(0.0)
        if isinstance(event, Line):
            got.append(event.text)
    player.join()
    assert got == [str(n) for n in range(200)]
    assert inbox.dropped == 0
