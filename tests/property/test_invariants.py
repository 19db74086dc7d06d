"""The thirteen invariants of our test plan, by number: those that no other test holds are here,
and the others are named, so that none is forgotten.

1 replay equals live, under two hash seeds; 2 restart loses nothing, silence is void; 3 nothing
is cleared by lack of data; 4 raised in time and never early; 5 dithering raises once; 6 only
steps of the table, and all of them; 7 one sound for one cause; 8 old answers change nothing;
9 a year's jump of the wall clock changes texts only; 10 crowding takes the least threatening and
leaves own ship's rules alone; 11 the framer; 12 geometry; 13 the journal folds to the alerts.
"""

from __future__ import annotations

import ast
import os
import random
import subprocess
import sys
from pathlib import Path

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.scenes.sea import HERE, START_S, Sea

from shipkeeper.words.alert import State
from shipkeeper.words.effects import Keep, Record
from shipkeeper.words.events import ClockNews
from shipkeeper.words.geo import offset

TESTS = Path(__file__).parents[1]
YEAR_S = 365.25 * 86_400
ORDERS = """
[drag]
radius = "45 m"
[[zone]]
name = "guard"
around = "anchor"
ring = { to = "400 m" }
[[proximity]]
name = "close"
cpa = "0.3 NM"
tcpa = "12 min"
within = "4 NM"
"""
DATE = "self:date-boat"  # the receiver and the computer a year apart: told, and all that is
NO_DRILL = '[drill]\npriority = "none"\n'  # its age in days is the one thing told by the calendar
ELSEWHERE = {
    2: "property/test_alert_machine.py::power_is_lost",
    3: "property/test_alert_machine.py::never_cleared_by_lack_of_data",
    4: "property/test_alert_machine.py::_check_raise",
    5: "unit/alerts/test_checklist.py::test_23_dithering_at_the_limit_raises_once_in_ten_minutes",
    6: "unit/alerts/test_states.py::test_every_row_is_taken_on_the_real_board",
    7: "property/test_alert_machine.py::one_sound_for_one_cause",
    8: "unit/alerts/test_checklist.py::test_09_an_answer_across_an_escalation_is_accepted",
    11: "unit/feed/test_framing.py::",
    12: "outside/test_zone_oracle.py::",
}


@pytest.mark.parametrize("number", ELSEWHERE)
def test_each_of_the_others_is_held_where_it_is_said(number: int) -> None:
    path, _, name = ELSEWHERE[number].partition("::")
    tree = ast.parse((TESTS / path).read_text())
    found = {n.name for n in ast.walk(tree) if isinstance(n, ast.FunctionDef)}
    assert name in found if name else any(n.startswith("test_") for n in found)


def night(folder: Path, seed: int, jump: tuple[float, float] | None = None) -> Sea:
    """A made-up hour in short: ships come and go, she drags, the receiver falls silent, people
    answer. jump: (when, by how much) the computer's clock is set meanwhile."""
    dice = random.Random(seed)
    sea = Sea(folder, ORDERS + NO_DRILL)
    sea.run(10)
    sea.anchor()
    away = 5.0
    for step in range(40):
        if jump is not None and step == int(jump[0]):
            now = START_S + sea.now_s
            sea.handle(ClockNews(now, now + jump[1], "synchronised"))
        away = max(0.0, min(110.0, away + dice.uniform(-25, 30)))
        sea.own = None if dice.random() < 0.15 else offset(HERE, 90, away)
        for number in range(3):
            sea.ship(number, 120 * number + step, dice.uniform(150, 900), kn=6, course=200)
        sea.run(dice.choice((3, 8, 15)))
        if dice.random() < 0.4:
            standing = sorted(sea.standing().keys() - {DATE})
            if standing:
                sea.obey(dice.choice(("ack", "silence", "take")), id=dice.choice(standing))
    return sea


def test_inv_01_the_same_under_two_hash_seeds(tmp_path: Path) -> None:
    """The order of a set must never reach a line. (Live against rehearsal: live/test_night.py.)"""
    told = []
    for seed in ("1", "2"):
        folder = tmp_path / seed
        folder.mkdir()
        told.append(
            subprocess.run(
                [sys.executable, "-m", "tests.property.test_invariants", str(folder)],
                capture_output=True, check=True, cwd=TESTS.parent, timeout=60,
                env={**os.environ, "PYTHONHASHSEED": seed},
            ).stdout
        )  # fmt: skip
    assert told[0] == told[1]
    assert told[0].count(b"\n") > 20


@settings(max_examples=4, deadline=None)
@given(seed=st.integers(0, 1000), when=st.integers(3, 35), years=st.sampled_from((-1.0, 1.0)))
def test_inv_09_a_years_jump_of_the_clock_changes_texts_only(
    tmp_path_factory: pytest.TempPathFactory, seed: int, when: int, years: float
) -> None:
    """Same transitions at the same engine times, the same messages to the same people. But for
    one: that the receiver and the computer are a year apart."""
    folder = tmp_path_factory.mktemp("jump")
    plain, jumped = night(folder, seed), night(folder, seed, (when, years * YEAR_S))
    mine_alone = [x for x in jumped.lines if x.transition.alert != DATE]
    for one, other in zip(plain.lines, mine_alone, strict=True):
        assert one.at_s == other.at_s
        mine, theirs = one.transition, other.transition
        assert (mine.alert, mine.to, mine.reason) == (theirs.alert, theirs.to, theirs.reason)
        assert (mine.occurrence, mine.priority) == (theirs.occurrence, theirs.priority)
    assert [(m.at_s, m.outlet, m.event, m.about) for m in plain.sends] == [
        (m.at_s, m.outlet, m.event, m.about) for m in jumped.sends
    ]


def test_inv_10_crowding_hides_neither_the_threat_nor_own_ship(tmp_path: Path) -> None:
    """Which targets are let go: unit/picture/test_tracks.py and scenes/test_targets.py (a flood
    of forged ships). Here: she drags in a full picture, and it is told as in an empty one."""
    sea = Sea(tmp_path, ORDERS)
    sea.run(10)
    sea.anchor()
    sea.run(5)
    for number in range(2100):
        sea.ship(number, number % 360, 9000 + 3 * number, kn=1, course=10)
    sea.own = offset(HERE, 90, 95.0)
    sea.run(3)
    assert "drag" in sea.raised()
    status = sea.obey("status").data
    assert status["targets"] <= status["target_room"]


@settings(max_examples=4, deadline=None)
@given(seed=st.integers(0, 1000))
def test_inv_13_the_journal_folds_to_the_alerts(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    """Line by line each begins where the last one of its alert ended, and the last says how it
    stands; and so does the row that the store holds."""
    sea = night(tmp_path_factory.mktemp("fold"), seed)
    at: dict[str, str] = {}
    for line in sea.lines:
        row = line.transition
        assert row.from_ == at.get(row.alert, "normal"), row
        at[row.alert] = row.to
    standing = {ident: state for ident, state in at.items() if state != "normal"}
    now = {r.id: str(r.state) for r in sea.engine.records() if r.state is not State.NORMAL}
    assert standing == now
    kept = {i: str(r.state) for i, r in sea._kept.items() if r.state is not State.NORMAL}
    assert kept == now


def test_what_is_kept_is_what_was_told() -> None:
    """Both effects carry a whole record; a store that has the last of them has the alert."""
    for effect in (Record, Keep):
        assert "alert" in effect.__struct_fields__


if __name__ == "__main__":
    for told in night(Path(sys.argv[1]), 7).lines:
        sys.stdout.write(msgspec.json.encode(told.transition).decode() + "\n")
