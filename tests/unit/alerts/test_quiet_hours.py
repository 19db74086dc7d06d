"""Quiet hours: a person is spared warnings and cautions, never an alarm, and loses nothing."""

from __future__ import annotations

from datetime import UTC, datetime

import msgspec
import pytest
from tests.unit.alerts.bench import OUTLETS, RULES, Bench, Phone, holds

from shipkeeper.app.kinds import KINDS
from shipkeeper.orders import read
from shipkeeper.words.orders import QuietHours

NIGHT = QuietHours(from_="22:00", to="07:00", utc_offset_s=7200.0)  # 20:00 to 05:00 UTC
MATE = Phone(name="mate", quiet_hours=NIGHT)
QUIET = (OUTLETS[0], OUTLETS[1], MATE, OUTLETS[3])


def at(text: str) -> float:
    return datetime.fromisoformat(f"2026-06-12T{text}:00").replace(tzinfo=UTC).timestamp()


def bench(start: str = "01:00") -> Bench:
    return Bench(outlets=QUIET, call_list=(), start_s=at(start))


@pytest.mark.parametrize(
    ("text", "left_h"),
    [("19:59", 0), ("20:00", 9), ("23:00", 6), ("01:00", 4), ("04:59", 1 / 60), ("05:00", 0)],
)
def test_the_hours_go_over_midnight_by_local_time(text: str, left_h: float) -> None:
    assert NIGHT.left_s(at(text)) == pytest.approx(left_h * 3600)


def test_a_warning_waits_and_its_alarm_does_not() -> None:
    """Nobody answers: after a minute it is an alarm, and an alarm wakes everyone."""
    night = bench()
    night.judge("hatch", holds())
    assert night.messages("skipper", "raised")
    assert not night.messages("mate")
    night.wait(60)
    assert [m.priority.label for m in night.messages("mate")] == ["alarm"]


def test_an_alarm_goes_through_at_once() -> None:
    night = bench()
    night.say("drag", holds())
    night.run(RULES["drag"].confirm_s + 1)
    assert night.messages("mate", "raised")


def test_what_was_held_is_told_in_one_message_at_the_end() -> None:
    night = bench("04:58")
    night.judge("hatch", holds())
    night.command("ack", "hatch")
    night.judge("battery", holds())
    night.run(4)
    assert not night.messages("mate")
    night.wait(121)
    told = night.messages("mate")
    assert [(m.title, m.event) for m in told] == [("2 WHILE QUIET", "note")]
    assert "04:58 WARNING: own ship: contact open." in told[0].text
    assert told[0].at_s == pytest.approx(at("05:00"))


def test_what_was_held_outlives_a_restart() -> None:
    night = bench("04:55")
    night.judge("hatch", holds())
    night.command("ack", "hatch")
    later = night.restarted(gap_s=20.0)
    later.wait(300)
    told = [m for m in later.messages("mate") if "WHILE QUIET" in m.title]
    assert len(told) == 1 and "contact open" in told[0].text


def test_without_the_time_nobody_is_spared() -> None:
    """A clock that is not known must not make a night of a day."""
    night = bench()
    night.board.desk.utc = lambda at_s: None
    night.judge("hatch", holds())
    assert night.messages("mate", "raised")


@pytest.mark.parametrize(
    ("kind", "hours", "said"),
    [
        ("buzzer = { line = 17 }", 'from = "22:00", to = "07:00"', "aboard"),
        ('syslog = { address = "/dev/log" }', 'from = "22:00", to = "07:00"', "log"),
        ('push = { urls = "credential:a" }', 'from = "25:00", to = "07:00"', "22:00"),
        ('push = { urls = "credential:a" }', 'from = "07:00", to = "07:00"', "same"),
        ('push = { urls = "credential:a" }', 'from = "22:00"', "missing"),
    ],
)
def test_faulty_hours_are_one_clear_line(kind: str, hours: str, said: str) -> None:
    text = f"""
        [vessel]
        name = "Curlew"
        length = "11 m"
        beam = "3 m"
        [drag]
        radius = "45 m"
        [[outlet]]
        name = "one"
        {kind}
        quiet_hours = {{ {hours} }}
    """
    orders, problems, _ = read(text, "orders.toml", KINDS)
    assert orders is None
    assert len(problems) == 1
    line = problems[0].told("orders.toml")
    assert said in line and "\n" not in line, line


def test_hours_are_plain_data() -> None:
    assert msgspec.json.decode(msgspec.json.encode(NIGHT), type=QuietHours) == NIGHT
