"""The drill's rule and its report, by arithmetic."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.scenes.sea import START_S, Sea

from shipkeeper.app.drill_report import Course, judged
from shipkeeper.words.alert import Priority
from shipkeeper.words.drill import BEGINS, IS_OVER, THROUGH, WIRE
from shipkeeper.words.effects import Message, Wanted
from shipkeeper.words.events import ClockNews, Command
from shipkeeper.words.sentence import sentence

DAY_S = 86_400.0
ON, OFF = sentence("IIXDR,G,1,,DRILL"), sentence("IIXDR,G,0,,DRILL")
DRAG = '[drag]\nradius = "45 m"\n'


def at_anchor(folder: Path, orders: str = DRAG) -> Sea:
    sea = Sea(folder, orders)
    sea.run(3)
    sea.anchor()
    sea.run(3)
    return sea


def away(sea: Sea, days: float) -> None:
    """Off for days; then the clock is right, and somebody has answered for the gap."""
    sea.crash(days * DAY_S)
    utc = START_S + sea.now_s
    sea.handle(ClockNews(utc, utc, "synchronised"))
    sea.run(3)
    for record in list(sea.engine.records()):
        if record.id != "drill:overdue":
            sea.obey("ack", id=record.id)
    sea.run(130)


def say(sea: Sea, verb: str, through: str = THROUGH, **args: object) -> int:
    command = Command(0.0, 900, verb, args, who="test", through=through)
    utc = sea.engine._now_s
    effects = sea.handle(Command(utc, command.number, verb, args, who="test", through=through))
    return next(e.code for e in effects if hasattr(e, "code"))


def test_it_comes_by_its_own_wire_only(tmp_path: Path) -> None:
    """The same sentence from an instrument of the boat is a measurement and nothing else."""
    sea = at_anchor(tmp_path)
    sea.hear(ON, wire="boat")
    sea.run(3)
    assert sea.raised() == []
    sea.hear(ON, wire=WIRE)
    sea.run(2)
    assert sea.raised() == ["drill"]
    (record,) = [r for r in sea.engine.records() if r.id == "drill"]
    assert record.drill and record.text.startswith("DRILL. ")


def test_its_sender_gone_it_ends_and_its_silent_wire_is_no_fault(tmp_path: Path) -> None:
    sea = at_anchor(tmp_path)
    sea.hear(ON, wire=WIRE)
    sea.run(2)
    sea.run(200)
    assert [r for r in sea.engine.records() if r.id == "drill" and r.condition == "true"] == []
    assert "feed:(drill)" not in sea.raised()
    assert all(row["name"] != WIRE for row in sea.obey("status").data["inputs"])


def test_a_power_cut_in_a_drill_leaves_nothing_of_it(tmp_path: Path) -> None:
    sea = at_anchor(tmp_path)
    sea.hear(ON, wire=WIRE)
    sea.run(2)
    sea.crash(5)
    sea.run(3)
    assert all(r.id != "drill" or r.state == "normal" for r in sea.engine.records())


def test_it_is_overdue_after_thirty_days_and_a_good_one_counts_anew(tmp_path: Path) -> None:
    sea = at_anchor(tmp_path)
    sea.run(70)
    away(sea, 29)
    assert "drill:overdue" not in sea.raised()
    away(sea, 2)
    overdue = [r for r in sea.engine.records() if r.id == "drill:overdue"]
    assert [r.priority.label for r in overdue] == ["caution"]
    assert "never been proved, in 31 days" in overdue[0].text
    assert say(sea, BEGINS) == 0 and say(sea, IS_OVER, good=False) == 0
    sea.run(130)
    assert any(r.id == "drill:overdue" and r.state != "normal" for r in sea.engine.records())
    assert say(sea, BEGINS) == 0 and say(sea, IS_OVER, good=True) == 0
    sea.run(130)
    assert all(r.id != "drill:overdue" or r.state == "normal" for r in sea.engine.records())
    away(sea, 40)
    (again,) = [r for r in sea.engine.records() if r.id == "drill:overdue"]
    assert "last proved 40 days ago" in again.text


def test_one_outlet_proved_does_not_count_for_the_whole_way(tmp_path: Path) -> None:
    sea = at_anchor(tmp_path, DRAG + '[drill]\nremind = "1 day"\n')
    sea.run(70)
    away(sea, 2)
    assert say(sea, BEGINS, outlet="skipper") == 0
    sea.hear(ON, wire=WIRE)
    sea.run(2)
    (record,) = [r for r in sea.engine.records() if r.id == "drill"]
    assert record.call == ("skipper",)
    assert say(sea, IS_OVER, good=True) == 0
    sea.run(130)
    assert any(r.id == "drill:overdue" and r.state != "normal" for r in sea.engine.records())


def test_nobody_else_begins_or_ends_one(tmp_path: Path) -> None:
    sea = at_anchor(tmp_path)
    for through in ("command line", "mqtt", "push", "nmea", "button"):
        assert say(sea, BEGINS, through) == 2
        assert say(sea, IS_OVER, through, good=True) == 2


def message(outlet: str) -> Message:
    return Message(
        id=f"drill/{outlet}", outlet=outlet, at_s=0.0, at="", event="raised", about="drill",
        number=1, occurrence=1, priority=Priority.ALARM, state="", title="",
        line="", text="", drill=True,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("sound_s", "sent_s", "silent_s", "good", "why"),
    [
        (1.0, 4.0, 31.0, True, "the way to you holds"),
        (2.5, 4.0, 31.0, False, "NOT PROVED: sound: buzzer"),
        (None, 4.0, None, False, "NOT PROVED: sound: buzzer"),
        (1.0, 15.5, 31.0, False, "NOT PROVED: sent: phone"),
        (1.0, None, 31.0, False, "NOT PROVED: sent: phone"),
        (1.0, 4.0, 32.5, False, "NOT PROVED: silent: buzzer"),
    ],
)
def test_the_report_by_its_limits(
    sound_s: float | None, sent_s: float | None, silent_s: float | None, good: bool, why: str
) -> None:
    """2 s to the sound, 15 s to the phone's service, 2 s from the answer to silence (ours)."""
    course = Course(outlet=None, wait_s=180.0, sounders=["buzzer"])
    course.seen({"state": "active-unacknowledged"}, 0.9)
    if sound_s is not None:
        course.shown("buzzer", Wanted(pattern="drill"), sound_s)
        course.shown("buzzer", Wanted(pattern="drill"), sound_s + 3)
    course.offered("phone", message("phone"), 1.0)
    course.delivered("phone", ["something else"], 1.1)
    if sent_s is not None:
        course.delivered("phone", ["drill/phone"], sent_s)
    course.seen({"state": "active-acknowledged", "acknowledged_by": "ann"}, 30.0)
    if silent_s is not None:
        course.shown("buzzer", Wanted(pattern="silence"), silent_s)
    outcome = judged(course)
    assert outcome.good is good and outcome.verdict == why
    assert any("by ann" in step.remark for step in outcome.steps)


def test_an_outlet_asked_for_that_was_given_nothing_is_not_proved() -> None:
    course = Course(outlet="lawyer", wait_s=60.0, sounders=[])
    course.seen({"state": "active-unacknowledged"}, 0.5)
    course.seen({"state": "active-acknowledged"}, 5.0)
    assert judged(course).verdict == "NOT PROVED: sent: lawyer"
