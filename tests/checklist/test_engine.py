"""The checklist through the real engine: sentences in, alerts out. Tests bear its numbers.

The checklist is our own specification's; the standards behind a row are named at its test, all
read as excerpts or second-hand unless it says so.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from demo import sentences
from demo.sentences import finish
from tests.scenes.sea import HERE, START_S, Sea

from shipkeeper.words.alert import Priority
from shipkeeper.words.effects import Reply
from shipkeeper.words.events import ClockNews, Command
from shipkeeper.words.geo import offset, range_bearing
from shipkeeper.words.units import MS_PER_KN

DRAG = "[drag]\nradius = '45 m'\n"
CLOSE = "[[proximity]]\nname = 'close'\ncpa = '0.3 NM'\ntcpa = '12 min'\nwithin = '4 NM'\n"
DEPTH = (
    "[[depth]]\nname = 'shoal'\nshallower_than = '2.5 m'\nreference = 'waterline'\n"
    "priority = 'alarm'\n"
)


def zone(shape: str, more: str = "") -> str:
    return f"[[zone]]\nname = 'guard'\nconfirm = '0 s'\n{shape}\n{more}\n"


def at_anchor(folder: Path, orders: str = DRAG) -> Sea:
    sea = Sea(folder, orders)
    sea.run(20)
    sea.anchor()
    sea.run(20)
    return sea


def lacks(sea: Sea) -> list[str]:
    """What `status` says the rules lack now."""
    return [what for rule in sea.obey("status").data["rules"] for what in rule["lacks"]]


def test_46_a_lost_position_is_indicated_in_time(tmp_path: Path) -> None:
    """GNSS standard 5.2: flagged invalid within 5 s; a silent line within 10 s (ours)."""
    sea = at_anchor(tmp_path)
    sea.own = None
    for _ in range(5):
        sea.hear(finish("GPRMC,214300.00,V,,,,,,,110626,,,N"), wire="boat")
        sea.run(1)
        if lacks(sea):
            break
    assert lacks(sea), "still thought to be known after 5 s"
    silent = at_anchor(tmp_path)
    silent.own = None
    silent.run(11)  # 10 s, seen on the next whole second
    assert lacks(silent)


def test_47_the_last_position_and_its_age_are_in_the_text(tmp_path: Path) -> None:
    """GNSS standard 5.2: the last position with the time of the last valid fix."""
    sea = at_anchor(tmp_path)
    last = sea.engine.label(START_S + sea.now_s)
    sea.own = None
    sea.run(80)
    words = sea.words("feed:boat")
    assert "Last good position 57°06.000'N 005°12.000'W" in words
    assert last[11:19] in words, words


def test_48_a_frozen_position_is_a_fault_within_30_s(tmp_path: Path) -> None:
    """The same sentence, time and all, again and again."""
    sea = at_anchor(tmp_path)
    sea.own = None
    frozen = sentences.rmc(START_S + sea.now_s, HERE.lat, HERE.lon, 0.0, None)
    for _ in range(30):
        sea.hear(frozen, wire="boat")
        sea.run(1)
    assert "frozen" in str(sea.obey("status").data["inputs"][0]["fault"])


def depth(sea: Sea, metres: float, seconds: int) -> None:
    for _ in range(seconds):
        sea.hear(sentences.dpt(metres, 0.5), wire="boat")
        sea.run(1)


def test_50_the_depth_alarm_is_raised_when_its_delay_is_over(tmp_path: Path) -> None:
    """IMO MSC.74(69) annex 4: audible and visual below a preset depth, and a mute."""
    sea = at_anchor(tmp_path, DEPTH)
    depth(sea, 5.0, 10)
    began = sea.now_s
    depth(sea, 1.6, 14)
    (line,) = [r for r in sea.lines if r.transition.to == "active-unacknowledged"]
    assert line.at_s - START_S - began <= 10.0 + 1.0 + 1.0  # on-delay, one grid step, and 1 s
    assert sea.sounds[-1].pattern.startswith("alarm") and sea.sounds[-1].lamp == "flash"
    assert sea.obey("silence").code == 0
    assert sea.sounds[-1].pattern == "silence"


def test_51_a_depth_says_from_where_it_counts(tmp_path: Path) -> None:
    sea = at_anchor(tmp_path, DEPTH)
    depth(sea, 1.5, 20)
    assert "2.0 m of water, limit 2.5 m" in sea.words("shoal")


@pytest.mark.parametrize("key", ["stronger_than = '20 kn'", "gust_over = '30 kn'"])
def test_52_wind_by_its_mean_and_by_its_gusts(tmp_path: Path, key: str) -> None:
    sea = at_anchor(tmp_path, f"[[wind]]\nname = 'blow'\n{key}\n")
    sea.heading = 0.0
    for _ in range(200):
        sea.hear(sentences.mwv(40.0, 35 * MS_PER_KN), wire="boat")
        sea.run(1)
    assert sea.raised("blow")
    assert "35.0 kn" in sea.words("blow")


def test_53_a_slow_drag_is_caught_within_a_minute_of_crossing(tmp_path: Path) -> None:
    """Half a knot over a circle of 45 m; and twice the radius needs no delay at all."""
    sea = at_anchor(tmp_path)
    away, crossed = 40.0, 0.0
    while not sea.raised() and away < 100:
        away += 0.5 * MS_PER_KN
        crossed = crossed or (sea.now_s if away > 45.0 else 0.0)
        sea.own = offset(HERE, 90, away)
        sea.run(1)
    assert sea.raised() == ["drag"]
    assert sea.now_s - crossed <= 60.0
    fast = at_anchor(tmp_path)
    fast.own = offset(HERE, 90, 95.0)
    fast.run(3)
    assert fast.raised() == ["drag"]


SHAPES = {
    "ring": "around = 'anchor'\nring = { to = '400 m' }",
    "ring with a hole": "around = 'anchor'\nring = { from = '100 m', to = '400 m' }",
    "own ship": "around = 'ship'\nring = { to = '400 m' }",
    "fixed": f"around = [{HERE.lat}, {HERE.lon}]\nring = {{ to = '400 m' }}",
    "sector": "around = 'anchor'\nsector = { left = 330, right = 30, from = '0 m', to = '400 m', "
    "bearings = 'true' }",
    "polygon": "polygon = [[57.099, -5.202], [57.099, -5.198], [57.104, -5.198], [57.104, -5.202]]",
}


@pytest.mark.parametrize("shape", SHAPES.values(), ids=SHAPES)
def test_56_zones_of_any_outline(tmp_path: Path, shape: str) -> None:
    """IMO MSC.192(79) 5.29.3: range and outline are the user's."""
    sea = at_anchor(tmp_path, zone(shape))
    sea.ship(1, 0, 250, kn=3)
    sea.ship(2, 180, 700, kn=3)
    sea.run(3)
    assert sea.raised() == ["guard:299000001"]


def test_57_entering_and_being_seen_there_first_count_alike(tmp_path: Path) -> None:
    """IMO MSC.192(79) 5.29.3."""
    sea = at_anchor(tmp_path, zone(SHAPES["ring"]))
    for away in range(600, 300, -30):
        assert away < 500 or sea.raised() == []
        sea.ship(1, 0, away, kn=6, course=180)
        sea.run(10)
    sea.ship(2, 90, 200, kn=4)
    sea.run(5)
    assert sorted(sea.raised()) == ["guard:299000001", "guard:299000002"]


def closing(sea: Sea, pass_m: float, away_m: float, *, radar: bool) -> None:
    """A ship from the north at 10 kn, to pass `pass_m` to the east, told for 40 s."""
    for step in range(8):
        north = away_m - 10 * MS_PER_KN * 5 * step
        place = offset(offset(HERE, 0, north), 90, pass_m)
        if radar:
            metres, bearing = range_bearing(HERE, place)
            sea.echo(7, bearing, metres, kn=10, course=180)
        else:
            sea.ship_at(1, place, kn=10, course=180)
        sea.run(5)


@pytest.mark.parametrize("radar", [False, True])
def test_58_one_limit_for_radar_and_ais(tmp_path: Path, radar: bool) -> None:
    """IMO MSC.192(79) 5.29.2: identical for both. Inside 0.3 NM, and well outside."""
    near = at_anchor(tmp_path, CLOSE)
    closing(near, 200, 3000, radar=radar)
    assert len(near.raised("close")) == 1
    far = at_anchor(tmp_path, CLOSE)
    closing(far, 1500, 3000, radar=radar)
    assert far.raised("close") == []


@pytest.mark.parametrize(
    ("pass_m", "away_m", "called"),
    [(200, 3000, True), (200, 6000, False), (1500, 3000, False), (1500, 6000, False)],
)
def test_59_cpa_and_tcpa_must_both_be_inside(
    tmp_path: Path, pass_m: float, away_m: float, called: bool
) -> None:
    """IMO MSC.192(79) 5.29.1. At 10 kn 12 min are 3704 m; 0.3 NM are 556 m."""
    sea = at_anchor(tmp_path, CLOSE)
    closing(sea, pass_m, away_m, radar=False)
    assert bool(sea.raised("close")) is called


def test_62_no_target_is_hidden_for_ever(tmp_path: Path) -> None:
    """IMO MSC.192(79) 5.26.3: single targets cannot be removed. One is put aside for a time."""
    sea = at_anchor(tmp_path, zone(SHAPES["ring"], "priority = 'warning'"))
    sea.ship(1, 0, 200, kn=2, course=90)
    sea.run(2)
    ident = "guard:299000001"
    assert sea.obey("shelve", id=ident, why="the ferry", for_s=13 * 3600.0).code == 2
    assert sea.obey("shelve", id=ident, why="the ferry", for_s=120.0).code == 0
    for _ in range(13):
        sea.ship(1, 0, 200, kn=0.5, course=90)
        sea.run(10)
    assert sea.standing()[ident].state == "active-unacknowledged"


def test_63_lost_is_told_after_six_missed_reports(tmp_path: Path) -> None:
    """IMO MSC.192(79) 5.29.5: by the nominal rate; 10 s for a class A ship under way to 14 kn
    (ITU-R M.1371, from memory). Our k is 6."""
    sea = at_anchor(tmp_path, zone(SHAPES["ring"]))
    for _ in range(4):
        sea.ship(1, 0, 200, kn=8, course=90)
        sea.run(10)
    heard_s = sea.now_s - 10

    def is_lost() -> bool:
        return any("is lost" in note.text for note in sea.notes)

    while not is_lost() and sea.now_s - heard_s < 200:
        sea.run(1)
    assert 60.0 <= sea.now_s - heard_s <= 62.0


def test_65_a_field_that_is_missing_is_shown_missing(tmp_path: Path) -> None:
    """IMO MSC.192(79) 5.28.4: never as zero. Speed 102.3 and course 360 are 'not available'."""
    sea = at_anchor(tmp_path, zone(SHAPES["ring"]))
    sea.ship(1, 0, 300, kn=102.3, course=0)
    sea.run(2)
    (row,) = sea.obey("targets").data["targets"]
    assert row["speed_ms"] is None
    assert row["cpa_m"] is None


def test_93_a_watch_that_is_ended_names_what_stood(tmp_path: Path) -> None:
    """Never disarmed silently: the answer, the journal and those who were called are told."""
    sea = at_anchor(tmp_path)
    sea.own = offset(HERE, 90, 95.0)
    sea.run(5)
    reply = sea.obey("off")
    assert "drag" in reply.text
    assert sea.lines[-1].transition.reason == "watch"
    assert any("WATCHED NO MORE" in message.text for message in sea.sends)


def test_99_an_hours_step_of_the_clock_moves_no_timer(tmp_path: Path) -> None:
    """Silence, escalation and calls go by the engine's own clock; the label follows UTC."""
    sea = at_anchor(tmp_path)
    sea.own = offset(HERE, 90, 95.0)
    sea.run(3)
    raised = sea.now_s
    sea.handle(ClockNews(START_S + sea.now_s, START_S + sea.now_s + 3600, "synchronised"))
    sea.run(121)
    times = [round(m.at_s - START_S - raised) for m in sea.sends if m.event == "repeat"]
    assert times[:3] == [pytest.approx(t, abs=2) for t in (15, 30, 120)]


def test_100_every_human_action_is_in_the_journal(tmp_path: Path) -> None:
    """Done or refused: verb, who, where, through what and what became of it."""
    sea = at_anchor(tmp_path)
    sea.own = offset(HERE, 90, 95.0)
    sea.run(3)
    before = len([n for n in sea.notes if n.kind == "command"])
    verbs = ("silence", "ack", "ack", "reset", "shelve", "take", "handover", "crew", "nonsense")
    for verb in verbs:
        sea.obey(verb, id="drag")
    rows = [n for n in sea.notes if n.kind == "command"][before:]
    assert tuple(n.data["verb"] for n in rows) == verbs
    assert all({"who", "where", "through", "code", "args"} <= n.data.keys() for n in rows)
    assert {n.data["code"] for n in rows} == {0, 2}


def test_106_every_title_has_sixteen_characters_at_most(tmp_path: Path) -> None:
    sea = at_anchor(tmp_path, DRAG + CLOSE + zone(SHAPES["ring"]))
    sea.named(1, "A VERY LONG NAME OVER")
    sea.own = offset(HERE, 90, 95.0)
    closing(sea, 100, 900, radar=False)
    assert sea.sends
    assert all(len(message.title) <= 16 for message in sea.sends)
    assert Priority.ALARM in {message.priority for message in sea.sends}


def test_95_a_press_of_the_button_answers_are_you_there(tmp_path: Path) -> None:
    """IMO MSC.128(75) 4.1.3.2: one action at the watch place cancels everything and begins a new
    dormant period."""
    sea = Sea(tmp_path, DRAG + "[presence]\nevery = '3 min'\n")
    sea.run(5)
    sea.obey("underway")
    sea.run(180 + 31)
    assert "presence" in sea.standing()
    command = Command(
        START_S + sea.now_s, 99, "press", {"how": "short"}, who="the button", through="button"
    )
    effects = sea.handle(command)
    assert [e.code for e in effects if isinstance(e, Reply)] == [0]
    sea.run(2)
    assert "presence" not in sea.standing()
    assert (sea.sounds[-1].click, sea.sounds[-1].pattern) == ("click", "silence")
    sea.run(170)
    assert "presence" not in sea.standing()
    sea.run(15)
    assert "presence" in sea.standing()
