"""'Are you there', through the real engine: stages, times, answers.

Source of stages and times: IMO MSC.128(75) 4.1.2 and 4.1.3, MSC/Circ.566 28.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from tests.scenes.sea import START_S, Sea

from shipkeeper.words.effects import Reply
from shipkeeper.words.events import Command

ORDERS = """
[presence]
every = "3 min"
"""


def begun(folder: Path, orders: str = ORDERS) -> Sea:
    sea = Sea(folder, orders)
    sea.run(2)
    sea.obey("underway")
    return sea


def path(sea: Sea) -> list[tuple[float, str, str]]:
    """(seconds after the start, state, priority) of every line of the alert."""
    return [
        (round(line.at_s - START_S), line.transition.to, line.transition.priority)
        for line in sea.lines
        if line.transition.kind == "presence"
    ]


def test_seen_heard_others_called_everyone(tmp_path: Path) -> None:
    """0, +15, +15, +90 s after three dormant minutes, each within a second (5 % of 15 s is
    0.75 s, of 3 min 5 s at most; the watch was set at 2 s)."""
    sea = begun(tmp_path)
    sea.run(320)
    assert path(sea) == [
        (183, "active", "caution"),
        (198, "active-unacknowledged", "warning"),
        (213, "active-unacknowledged", "alarm"),
        (303, "active-unacknowledged", "alarm"),
    ]
    called = [round(m.at_s - START_S) for m in sea.sends if m.rule == "presence"]
    assert {198, 213, 303} <= set(called)
    assert "Nobody on watch has answered for 5 min" in sea.words("presence")


def test_one_action_answers_all_of_it(tmp_path: Path) -> None:
    """By `here`, by the button, at any stage; and a new dormant time begins."""
    for wait, through in ((185, "command line"), (200, "button"), (280, "button")):
        sea = begun(tmp_path)
        sea.run(wait)
        command = Command(START_S + sea.now_s, 1, "here", {}, "Ann", "aboard", through)
        (reply,) = (e for e in sea.handle(command) if isinstance(e, Reply))
        assert reply.code == 0, reply.text
        assert sea.sounds[-1].pattern == "silence" if len(sea.sounds) else True
        sea.run(178)
        assert "presence" not in sea.standing()
        sea.run(4)
        assert sea.standing()["presence"].priority.label == "caution"


def test_any_command_given_aboard_counts_and_none_from_ashore(tmp_path: Path) -> None:
    """MSC/Circ.566 28; 4.1.3.1: only from a place that gives a proper look-out."""
    where: Literal["aboard", "ashore"]
    for where, through, late in (
        ("aboard", "command line", False),
        ("ashore", "command line", True),
        ("aboard", "mqtt", True),
    ):
        sea = begun(tmp_path)
        sea.run(170)
        sea.handle(Command(START_S + sea.now_s, 1, "silence", {}, "Ann", where, through))
        sea.run(20)
        assert ("presence" in sea.standing()) is late, (where, through)
    assert sea.obey("status").code in (0, 1)
    sea.run(2)
    assert "presence" in sea.standing(), "a question is no sign of life"


def test_ashore_and_in_other_watches_nobody_is_asked(tmp_path: Path) -> None:
    """And without [presence] never."""
    sea = begun(tmp_path)
    sea.obey("crew", where="ashore")
    sea.run(400)
    assert path(sea) == []
    sea.obey("crew", where="aboard")
    sea.anchor()
    sea.run(400)
    assert path(sea) == []
    bare = begun(tmp_path, "[drag]\nradius = '45 m'\n")
    bare.run(800)
    assert path(bare) == []
    assert bare.obey("here").code == 2


def test_a_restart_does_not_let_the_sleeper_sleep_on(tmp_path: Path) -> None:
    """The alarm stands again, and ends only with an answer."""
    sea = begun(tmp_path)
    sea.run(220)
    sea.crash()
    sea.run(30)
    assert sea.standing()["presence"].state == "active-unacknowledged"
    assert sea.standing()["presence"].priority.label == "alarm"
    sea.obey("here")
    sea.run(2)
    assert "presence" not in sea.standing()
