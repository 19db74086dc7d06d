"""What stood when the power went stands after it, and goes by its own condition alone.

One scene for each alert that is known from more than the moment: the memory behind it has to
outlive the cut as well, or the first good data after it would end what nobody has seen mended.
The demand is the project's own: nothing raised, armed or acknowledged is lost by a power cut.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import pytest
from demo.sentences import dpt, finish, gga, mwv, rmc
from tests.scenes.sea import HERE, START_S, Sea

from shipkeeper.words.events import ClockNews, ContactNews, Gap, Tick
from shipkeeper.words.geo import offset

DRAG = "[drag]\nradius = '45 m'\n"
HATCH = """
[[contact]]
name = "hatch"
line = 3
clear = "5 s"
priority = "alarm"
"""
GLASS = """
[[sensor]]
name = "glass"
measures = "BARO"
falls_by = "3 hPa"
over = "3 h"
clear = "60 s"
"""
VEERS = """
[[wind]]
name = "veers"
shift_over = "60 deg"
confirm = "10 s"
clear = "60 s"
"""
SHOALS = """
[[depth]]
name = "shoals"
shoals_faster_than = "0.5 m/min"
clear = "10 s"
confirm = "5 s"
"""
TRANSPONDER = """
[[input]]
name = "transponder"
udp = "127.0.0.1:10112"
expect = ["ais"]
"""
SPARE = """
[[input]]
name = "spare"
udp = "127.0.0.1:10113"
"""
OWN_AIS = finish("AIVSD,1,1,1,1,120000,1,1,1,1")  # what a transponder says by itself


def told(sea: Sea, seconds: int, says: Callable[[float], str]) -> None:
    """One sentence a second beside the fixes; says: engine second -> the sentence."""
    for _ in range(seconds):
        sea.hear(says(sea.now_s), wire="boat")
        sea.run(1)


def asleep(sea: Sea, seconds: float) -> None:
    """A long time in one step."""
    since_s = START_S + sea.now_s
    sea.now_s += seconds
    sea.handle(Gap(START_S + sea.now_s, since_s))


def baro(bar: float) -> Callable[[float], str]:
    return lambda _: finish(f"WIXDR,P,{bar:.4f},B,BARO")


def contact(sea: Sea, closed: bool, seconds: float) -> None:
    sea.handle(ContactNews(START_S + sea.now_s, "hatch", closed))
    sea.run(seconds)


def chattering(folder: Path) -> Sea:
    """At anchor, and the hatch's contact has come and gone five times in a minute."""
    sea = Sea(folder, DRAG + HATCH)
    sea.run(5)
    sea.anchor()
    for _ in range(4):
        contact(sea, True, 3)
        contact(sea, False, 8)
    contact(sea, True, 3)
    return sea


def test_the_word_about_an_alert_that_comes_and_goes(tmp_path: Path) -> None:
    """Three raises in a minute are chatter; the caution stands over two cuts, and goes when the
    contact has stayed open for the long off-delay."""
    sea = chattering(tmp_path)
    assert "self:chatter-hatch" in sea.standing()
    for _ in range(2):
        sea.crash()
        assert "self:chatter-hatch" in sea.standing(), "before any data"
        contact(sea, True, 60)
        assert "self:chatter-hatch" in sea.standing()
    contact(sea, False, 590)
    assert "self:chatter-hatch" in sea.standing()
    sea.run(60)
    assert "self:chatter-hatch" not in sea.standing()


def test_the_word_about_one_that_is_over_already_goes(tmp_path: Path) -> None:
    """The alert it speaks of is gone with its rule: nobody would ever end it."""
    sea = chattering(tmp_path)
    later = Sea(tmp_path, DRAG)
    sea.orders = later.orders
    sea.crash()
    sea.handle(Tick(START_S + sea.now_s))
    assert "self:chatter-hatch" not in sea.standing()


def test_no_watch_set(tmp_path: Path) -> None:
    """It takes ten minutes to see how she lies: until then what was told stands. It goes when
    she is seen to make way, and at once when a watch is set."""
    sea = Sea(tmp_path, DRAG)

    def lies(seconds: int) -> None:
        for _ in range(seconds):
            sea.own = offset(HERE, 90.0, 12.0 * math.sin(sea.now_s / 40.0))
            sea.run(1)

    lies(720)
    assert sea.raised() == ["self:no-watch"]
    sea.crash()
    lies(900)
    assert "self:no-watch" in sea.standing() and sea.raised() == ["self:no-watch"]
    sea.crash()
    sea.own = None  # and no fix at all is no reason either
    sea.run(900)
    assert "self:no-watch" in sea.standing()
    for _ in range(1000):
        sea.own = offset(HERE, 45.0, 2.5 * (sea.now_s % 5000))
        sea.run(1)
    assert "self:no-watch" not in sea.standing()


def test_a_fall_of_the_glass(tmp_path: Path) -> None:
    """Measured against readings of two hours ago: those outlive the cut. It is over when the
    fall is, in as many hours as the orders say."""
    sea = Sea(tmp_path, GLASS)
    sea.run(5)
    sea.anchor()
    told(sea, 600, baro(1.0120))
    told(sea, 600, baro(1.0080))
    assert sea.raised() == ["glass"]
    for _ in range(2):
        sea.crash(30.0)
        told(sea, 300, baro(1.0079))
        assert sea.standing()["glass"].state.startswith("active")
    asleep(sea, 10_800.0)
    told(sea, 120, baro(1.0079))
    assert sea.raised("glass") == ["glass"]
    assert not sea.standing()["glass"].state.startswith("active")


def test_a_shift_of_the_wind(tmp_path: Path) -> None:
    """From what it was when the watch was set, though that was a few minutes before the cut."""
    sea = Sea(tmp_path, VEERS)
    sea.heading = 0.0
    sea.run(5)
    sea.anchor()

    def blows(from_deg: float) -> Callable[[float], str]:
        return lambda _: mwv(from_deg, 6.0)

    told(sea, 180, blows(20.0))
    told(sea, 240, blows(110.0))
    assert sea.raised() == ["veers"]
    sea.crash()
    told(sea, 400, blows(110.0))
    assert sea.standing()["veers"].state.startswith("active")
    told(sea, 400, blows(30.0))
    assert not sea.standing()["veers"].state.startswith("active")


def test_a_bottom_that_comes_up(tmp_path: Path) -> None:
    """A rate wants a minute of soundings: until then it is not known, and not over."""
    sea = Sea(tmp_path, SHOALS)
    sea.run(5)
    sea.obey("underway")

    def falling(depth_m: float, began_s: float) -> Callable[[float], str]:
        return lambda now_s: dpt(depth_m - (now_s - began_s) / 60.0, 0.0)

    told(sea, 150, falling(20.0, sea.now_s))
    (alert,) = sea.raised()
    sea.crash()
    told(sea, 200, falling(17.0, sea.now_s))
    assert sea.standing()[alert].state.startswith("active") and len(sea.raised()) == 1
    told(sea, 300, lambda _: dpt(14.0, 0.0))
    assert alert not in sea.standing() or not sea.standing()[alert].state.startswith("active")


def test_a_transponder_that_fell_silent(tmp_path: Path) -> None:
    """Its rhythm is forgotten with the cut, its silence is not, though its wire is busy."""
    sea = Sea(tmp_path, DRAG + TRANSPONDER)
    sea.run(5)
    sea.anchor()

    def busy(seconds: int, *, speaks: bool) -> None:
        for second in range(seconds):
            sea.hear(dpt(9.0, 0.0), wire="transponder")
            if speaks and second % 5 == 0:
                sea.hear(OWN_AIS, wire="transponder")
            sea.run(1)

    busy(120, speaks=True)
    busy(200, speaks=False)
    assert sea.raised() == ["feed:transponder"]
    sea.crash()
    busy(200, speaks=False)
    assert sea.standing()["feed:transponder"].state.startswith("active")
    busy(120, speaks=True)
    assert not sea.standing()["feed:transponder"].state.startswith("active")
    assert sea.raised() == ["feed:transponder"]


def test_two_receivers_that_disagree(tmp_path: Path) -> None:
    """The other one is slow to come back: nobody has contradicted what was told, and it stands."""
    sea = Sea(tmp_path, DRAG + SPARE)
    sea.run(5)
    sea.anchor()

    def both(seconds: int, apart_m: float) -> None:
        for _ in range(seconds):
            place, utc_s = offset(HERE, 90.0, apart_m), START_S + sea.now_s
            sea.hear(rmc(utc_s, place.lat, place.lon, 0.0, None), wire="spare")
            sea.run(1)

    both(90, 80.0)
    (alert,) = sea.raised()
    assert alert == "feed:spare"
    sea.crash()
    sea.own = None
    both(120, 80.0)
    assert sea.standing()[alert].state.startswith("active")
    sea.own = HERE
    both(120, 80.0)
    assert sea.standing()[alert].state.startswith("active")
    both(120, 5.0)
    assert not sea.standing()[alert].state.startswith("active")
    assert sea.raised(sea.standing()[alert].rule).count(alert) == 1


def test_a_drill_that_is_overdue(tmp_path: Path) -> None:
    """A board without a clock does not know the date at once: the caution waits for it."""
    sea = Sea(tmp_path, "[drill]\nremind = '24 h'\n")
    sea.run(5)
    sea.anchor()
    sea.run(70)
    asleep(sea, 86_400.0)
    sea.run(120)
    assert sea.raised("drill") == ["drill:overdue"]
    sea.crash()
    sea.own = None
    sea.run(200, 10.0)
    assert "drill:overdue" in sea.standing()
    sea.handle(ClockNews(START_S + sea.now_s, START_S + sea.now_s, "synchronised"))
    sea.run(200)
    assert "drill:overdue" in sea.standing() and sea.raised("drill") == ["drill:overdue"]


@pytest.mark.parametrize("far_m, priority", [(13.0, "caution"), (40.0, "alarm")])
def test_a_drag_within_minutes_of_anchoring(far_m: float, priority: str, tmp_path: Path) -> None:
    """Reckoned from what was learnt since: she lies astray after the cut as she did before."""
    sea = Sea(tmp_path, "[drag]\n")
    sea.own, sea.heading, out_m = None, 0.0, 0.0

    def lies(seconds: int, drift_ms: float = 0.0) -> None:
        nonlocal out_m
        for _ in range(seconds):
            out_m += drift_ms
            turn = sea.now_s / 50.0
            place = offset(offset(HERE, 180.0, 25.0 + out_m), 90.0, 6.0 * math.sin(turn))
            aside_ms = 0.12 * math.cos(turn)
            course = math.degrees(math.atan2(aside_ms, -drift_ms)) % 360.0
            utc_s, speed_ms = START_S + sea.now_s, math.hypot(aside_ms, drift_ms)
            sea.hear(
                rmc(utc_s, place.lat, place.lon, speed_ms, course),
                gga(utc_s, place.lat, place.lon, 0.9), mwv(0.0, 7.0), wire="boat",
            )  # fmt: skip
            sea.run(1)

    lies(5)
    sea.obey("anchor", how="at", lat=HERE.lat, lon=HERE.lon, rode_m=30.0, depth_m=6.0)
    lies(300)
    lies(round(far_m / 0.3), 0.3)
    assert sea.standing()["drag"].priority.label == priority
    before = len(sea.raised())
    sea.crash()
    lies(1200)
    assert sea.standing()["drag"].state.startswith("active") and len(sea.raised()) == before


@pytest.mark.parametrize("seconds, stands", [(300.0, True), (400.0, False)])
def test_a_full_picture(seconds: float, stands: bool, tmp_path: Path) -> None:
    """The picture begins empty, and that says nothing of the sea: not before the slowest ships
    have had two of their turns."""
    sea = Sea(tmp_path, DRAG)
    sea.run(5)
    sea.anchor()
    sea.engine.picture.targets.capacity = 10
    for number in range(10):
        sea.ship(number, 10.0 * number, 900.0)
    sea.run(5)
    assert sea.raised() == ["self:targets"]
    sea.crash()
    sea.run(seconds)
    assert ("self:targets" in sea.standing()) is stands
