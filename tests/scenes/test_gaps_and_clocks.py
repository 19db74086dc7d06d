"""Nobody watched; no watch is set; the clock is wrong: what the engine says and does."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from pathlib import Path

import pytest
from demo.sentences import finish, rmc
from tests.scenes.sea import HERE, START_S, Sea

from shipkeeper.engine import Engine
from shipkeeper.words.events import ClockNews, Gap, InputNews, Line, Tick
from shipkeeper.words.geo import offset
from shipkeeper.words.remembered import Remembered

DRAG = "[drag]\nradius = '45 m'\n"


def at_anchor(folder: Path) -> Sea:
    sea = Sea(folder, DRAG)
    sea.run(20)
    sea.anchor()
    sea.run(20)
    return sea


def sleep(sea: Sea, for_s: float) -> None:
    since_s = START_S + sea.now_s
    sea.now_s += for_s
    sea.handle(Gap(START_S + sea.now_s, since_s))


def test_a_suspended_machine_says_what_was_not_watched(tmp_path: Path) -> None:
    """20 minutes asleep at anchor: one alarm with both times and the rules; nothing is raised in
    arrears of the silence that nobody could hear."""
    sea = at_anchor(tmp_path)
    sea.run(START_S % 1 + 80)
    since = sea.engine.label(START_S + sea.now_s)[11:16]
    sleep(sea, 21 * 60)
    until = sea.engine.label(START_S + sea.now_s)[11:16]
    sea.run(40)
    gap = sea.standing()["self:gap"]
    assert gap.priority.label == "alarm"
    assert f"Not watched from {since} to {until} UTC" in gap.text
    assert "drag" in gap.text
    assert sea.raised() == ["self:gap"]
    sea.obey("ack", id="self:gap")
    assert "self:gap" not in sea.standing()


def test_an_alert_stands_through_the_sleep(tmp_path: Path) -> None:
    """Neither lost nor raised twice; a blind feed alert does not clear by the gap."""
    sea = at_anchor(tmp_path)
    sea.own = None
    sea.run(80)
    assert "feed:boat" in sea.standing()
    sleep(sea, 1800)
    sea.run(100)
    assert sea.standing()["feed:boat"].state == "active-unacknowledged"
    assert sea.raised().count("feed:boat") == 1


def test_a_short_sleep_or_no_watch_is_no_alarm(tmp_path: Path) -> None:
    """A minute or less; or the watch is off."""
    sea = at_anchor(tmp_path)
    sleep(sea, 55)
    sea.run(10)
    assert sea.raised() == []
    sea.obey("off")
    sleep(sea, 4000)
    sea.run(10)
    assert sea.raised() == []


def lie(sea: Sea, minutes: float, sway_m: float, swing_deg: float) -> None:
    """As a boat does: about a circle, her head to and fro."""
    for second in range(round(minutes * 60)):
        turn = 2 * math.pi * second / 240
        sea.own = offset(HERE, 90.0, sway_m * math.sin(turn))
        sea.heading = (40.0 + swing_deg * math.cos(turn)) % 360
        sea.run(1)


def test_no_watch_set_is_told_after_ten_minutes_as_at_anchor(tmp_path: Path) -> None:
    """A caution, once; it goes when a watch is set."""
    sea = Sea(tmp_path, DRAG)
    lie(sea, 10.0, 12.0, 25.0)
    assert sea.raised() == []
    lie(sea, 2.0, 12.0, 25.0)
    assert sea.raised() == ["self:no-watch"]
    caution = sea.standing()["self:no-watch"]
    assert caution.priority.label == "caution" and caution.title == "NO WATCH SET"
    sea.anchor()
    sea.run(3)
    assert "self:no-watch" not in sea.standing()


@pytest.mark.parametrize("what", ["berth", "under way", "anchored"])
def test_no_reminder_where_none_is_due(what: str, tmp_path: Path) -> None:
    """Fast in a berth, making way, or with the watch set."""
    sea = Sea(tmp_path, DRAG)
    sea.run(5)
    if what == "anchored":
        sea.anchor()
    for _ in range(14):
        if what == "under way":
            for second in range(60):
                sea.own = offset(HERE, 45.0, 2.5 * (sea.now_s + second / 60))
                sea.run(1)
        else:
            lie(sea, 1.0, 1.0 if what == "berth" else 12.0, 1.0 if what == "berth" else 25.0)
    assert "self:no-watch" not in sea.raised()


# -- clocks ----------------------------------------------------------------------------------


def dated(utc: datetime) -> str:
    """An RMC of that date and time."""
    return rmc(utc.timestamp(), HERE.lat, HERE.lon, 0.0, None)


class Board:
    """A computer that boots with the clock it has; receivers send the date they have."""

    def __init__(self, folder: Path, boots_s: float, quality: str = "none") -> None:
        self.now_s = boots_s
        self.engine = Engine(Sea(folder, DRAG).orders, boots_s)
        self.engine.handle(ClockNews(boots_s, boots_s, quality))  # type: ignore[arg-type]  # a Literal as text
        self.engine.handle(InputNews(boots_s, "boat", True))

    def run(self, seconds: int, feed: datetime) -> None:
        for second in range(seconds):
            self.now_s += 1
            utc = datetime.fromtimestamp(feed.timestamp() + second, UTC)
            self.engine.handle(Line(self.now_s, "boat", dated(utc)))
            self.engine.handle(Tick(self.now_s))

    @property
    def says(self) -> tuple[str, str]:
        return self.engine.label(self.now_s)[:16], self.engine.picture.time.quality


def test_a_board_that_boots_in_1970_takes_the_receivers_time(tmp_path: Path) -> None:
    """No timer minds; stamps say how far they are to be trusted: none, then gnss."""
    board = Board(tmp_path, 30.0)
    assert board.says == ("1970-01-01T00:00", "none")
    board.run(5, datetime(2026, 6, 12, 1, 0, tzinfo=UTC))
    assert board.says == ("2026-06-12T01:00", "gnss")


def test_the_gap_is_told_when_the_time_is_known(tmp_path: Path) -> None:
    """Boots with the time it was switched off at (no battery clock): first it looks like a
    short stop; with the receivers' time the true gap is told."""
    sea = at_anchor(tmp_path)
    alive_s = START_S + sea.now_s
    board = Board(tmp_path, alive_s + 5.0, "system")
    state = {"watch": sea.engine.memory()["watch"]}
    board.engine.restore(Remembered(last_alive_s=alive_s, state=state), 5.0)
    assert not [r for r in board.engine.records() if r.facts.get("event") == "gap"]
    board.run(5, datetime.fromtimestamp(alive_s + 7200, UTC))
    (gap,) = [r for r in board.engine.records() if r.facts.get("event") == "gap"]
    begins = datetime.fromtimestamp(alive_s, UTC).strftime("%H:%M")
    assert f"Not watched from {begins} to" in gap.text


def test_a_clock_lost_altogether_says_that_it_does_not_know(tmp_path: Path) -> None:
    """1970 again, after a run in 2026: not watched, for how long nobody knows. What stood
    sounds, and no timer of it lies in the future."""
    sea = at_anchor(tmp_path)
    sea.own = offset(HERE, 0.0, 90.0)
    sea.run(60)
    alert = sea.standing()["drag"]
    state = {"watch": sea.engine.memory()["watch"]}
    board = Board(tmp_path, 40.0)
    kept = Remembered(alerts=(alert,), last_alive_s=START_S + sea.now_s, state=state)
    board.engine.restore(kept, None)
    records = {r.id: r for r in board.engine.records()}
    assert "for a time that is not known" in records["self:gap"].text
    drag = records["drag"]
    assert drag.state == "active-unacknowledged"
    assert drag.raised_s is not None and drag.raised_s <= 40.0
    due = board.engine.next_deadline()
    assert due is not None and due <= 42.0


@pytest.mark.parametrize(
    "feed",
    [
        datetime(2006, 10, 27, 1, 0, tzinfo=UTC),  # 1024 weeks back: a receiver's week rollover
        datetime(1994, 1, 1, 1, 0, tzinfo=UTC),
        datetime(2093, 1, 1, 1, 0, tzinfo=UTC),
    ],
)
def test_a_receiver_in_another_era_labels_nothing(feed: datetime, tmp_path: Path) -> None:
    """GPS weeks are counted modulo 1024 (19.6 years). Its position is as good as ever."""
    board = Board(tmp_path, START_S, "system")
    board.run(30, feed)
    assert board.says == (board.engine.label(board.now_s)[:16], "system")
    assert abs(board.engine.picture.time.offset_s) < 1e-6
    assert board.engine.picture.own_place(board.now_s) is not None


@pytest.mark.parametrize(
    ("ahead_s", "title", "words"),
    [
        (-1024 * 7 * 86_400.0, "WRONG DATE", "19.6 years behind"),
        (-3 * 86_400.0, "WRONG DATE", "3 days behind"),
        (3600.0, "WRONG TIME", "60 min ahead"),
    ],
)
def test_a_receiver_whose_date_is_wrong_is_told(
    ahead_s: float, title: str, words: str, tmp_path: Path
) -> None:
    """A caution after a minute, once; the fixes are used, the labels stay; it goes when the date
    is good again. Neither a minute's error nor a moment's is one."""
    sea = at_anchor(tmp_path)
    sea.own = None

    def says(ahead: float, seconds: int) -> None:
        for _ in range(seconds):
            sea.now_s += 1
            utc_s = START_S + sea.now_s
            fix = rmc(utc_s + ahead, HERE.lat, HERE.lon, 0.0, None)
            sea.handle(Line(utc_s, "boat", fix))
            sea.handle(Tick(utc_s))

    says(50.0, 120)
    says(ahead_s, 59)
    says(0.0, 61)
    assert sea.raised() == []
    says(ahead_s, 63)
    assert sea.raised() == ["self:date-boat"]
    told = sea.standing()["self:date-boat"]
    assert (told.title, told.priority.label) == (title, "caution")
    assert words in told.text and 'Input "boat"' in told.text
    assert sea.engine.picture.own_place(START_S + sea.now_s) is not None
    assert abs(sea.engine.picture.time.offset_s) < 1e-6
    sea.crash()  # it stands, until the date was good for a minute
    assert "self:date-boat" in sea.standing()
    sea.handle(ClockNews(START_S + sea.now_s, START_S + sea.now_s, "synchronised"))
    says(ahead_s, 63)
    assert "self:date-boat" in sea.standing()
    assert sea.raised() == ["self:date-boat"]
    says(0.0, 63)
    assert "self:date-boat" not in sea.standing()


def test_an_hours_step_of_the_computer_moves_no_timer(tmp_path: Path) -> None:
    """The label steps, the on-delay of 20 s does not."""
    for step_s in (3600.0, -3600.0):
        sea = at_anchor(tmp_path)
        sea.own = offset(HERE, 0.0, 60.0)
        sea.run(10)
        now = START_S + sea.now_s
        sea.handle(ClockNews(now, now + step_s, "synchronised"))
        sea.run(8)
        assert sea.raised() == []
        sea.run(6)
        assert sea.raised() == ["drag"]
        label = next(line.transition.at for line in sea.lines if line.transition.alert == "drag")
        assert label == sea.engine.label(sea.lines[-1].at_s)


def test_a_leap_second_is_nothing(tmp_path: Path) -> None:
    """23:59:60, then 00:00:00; and a receiver that says 23:59:59 twice instead."""
    for texts in (("235959", "235960", "000000"), ("235959", "235959", "000000")):
        sea = at_anchor(tmp_path)
        sea.own = None
        for text in texts * 1 + tuple(f"0000{n:02d}" for n in range(1, 30)):
            sea.hear(
                finish(f"GPRMC,{text}.00,A,5706.00000,N,00512.00000,W,0.0,,311226,,,A"),
                wire="boat",
            )
            sea.run(1)
        assert sea.raised() == []
        assert sea.engine.picture.inputs.by_name["boat"].withheld == ""


def test_what_has_come_back_is_no_fault_when_a_beacon_is_heard_in_the_same_second(
    tmp_path: Path,
) -> None:
    """A beacon's report has the feed judged between two grid seconds, when what is blind is as
    old as the last: the depth that came back a moment before must not be told as missing."""
    sea = Sea(tmp_path, '[[depth]]\nname = "shoal"\nshallower_than = "2 m"\nforecast = "0 s"\n')
    depth = finish("SDDPT,6.0,0.6")
    sea.hear(depth, wire="boat")
    sea.run(5)
    sea.anchor()
    sea.run(90)
    assert sea.raised() == ["feed:boat"]
    sea.now_s = round(sea.now_s + 0.4, 3)
    sea.hear(depth, wire="boat")
    sea.now_s = round(sea.now_s + 0.2, 3)
    sea.ship(1, 0, 1200, status=14, mmsi=970299001)
    for _ in range(60):
        sea.run(1)
        sea.hear(depth, wire="boat")
    assert sorted(sea.raised()) == ["distress:970299001", "feed:boat"]


def test_what_is_watched_no_more_is_not_called_well_again(tmp_path: Path) -> None:
    """The watch is set off while it is blind: the journal says that nobody looks any more, never
    that something can be judged again, or is over."""
    sea = Sea(tmp_path, '[drag]\nradius = "45 m"\n')
    sea.own = None
    sea.anchor()
    sea.run(80)
    begun = len(sea.lines)
    sea.obey("off")
    told = {line.transition.alert: line.transition for line in sea.lines[begun:]}
    assert told["drag"].text == 'Order "drag" is watched no more.'
    assert told["feed:boat"].text.startswith('Order "feed" is watched no more. Raised 20 s before:')
    assert {t.reason for t in told.values()} == {"watch"}
