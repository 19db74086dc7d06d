"""Zones: coming, going, neighbours, filters, hulls, lost targets, pairs, own ship, restarts."""

from __future__ import annotations

import random

import pytest

from shipkeeper.alerts.board import Board
from shipkeeper.alerts.wording import words_of
from shipkeeper.picture.picture import Picture
from shipkeeper.picture.watch import AnchorMark, WatchSet
from shipkeeper.rules.filters import Friend, Ignore
from shipkeeper.rules.zone import Zone, ZoneOrders
from shipkeeper.rules.zone_orders import Ring, Sector
from shipkeeper.words.alert import State
from shipkeeper.words.geo import LatLon, offset
from shipkeeper.words.observations import AisReport, AisStatic, Heading, Position, RadarPlace
from shipkeeper.words.timing import utc_text
from shipkeeper.words.verdict import Verdict

from .helpers import VESSEL, picture, put

HERE = LatLon(50.0, -5.0)  # the mark of helpers.picture


def zone(**keys: object) -> Zone:
    plain: dict[str, object] = {
        "name": "guard", "around": "anchor", "ring": Ring(to_m=500.0), "measure": "antenna",
    }  # fmt: skip
    orders = ZoneOrders(**(plain | keys))  # type: ignore[arg-type]  # keys of many types, by name
    return orders.build(VESSEL)


class Scene:
    """A picture with ships put in by bearing and range from the anchor, judged by a rule."""

    def __init__(self, rule: Zone, watch: str = "anchored") -> None:
        self.picture: Picture = picture(watch)
        self.rule = rule
        self.open: set[str] = set()
        put(self.picture, 0.0, Position(HERE.lat, HERE.lon))

    def ship(
        self,
        at_s: float,
        bearing: float,
        range_m: float,
        number: int = 1,
        speed: float = 3.0,
        station: str = "A",
        course: float | None = None,
    ) -> None:
        place = offset(HERE, bearing, range_m)
        report = AisReport(299000000 + number, station, place.lat, place.lon, speed, course)
        put(self.picture, at_s, report, source="ais")

    def judge(self, now_s: float) -> dict[str, Verdict]:
        put(self.picture, now_s, Position(HERE.lat, HERE.lon))
        self.picture.targets.sweep(now_s)
        judged = self.rule.judge(self.picture, now_s, frozenset(self.open))
        assert not judged.missing, judged.missing
        said = {verdict.subject.key: verdict for verdict in judged.verdicts}
        for key, verdict in said.items():
            if verdict.holds:
                self.open.add(key)
            elif verdict.is_gone:
                self.open.discard(key)
        return said


KEY = "ais:299000001"


def test_entering_holds_and_says_who_and_where() -> None:
    """Outside nothing, inside an entry with name, range, bearing and the count."""
    scene = Scene(zone())
    put(scene.picture, 0.0, AisStatic(299000001, "BRINE LARK"), source="ais")
    scene.ship(0.5, 90.0, 800.0)
    assert scene.judge(1.0) == {}
    scene.ship(11.0, 90.0, 400.0)
    verdict = scene.judge(11.0)[KEY]
    assert verdict.holds
    assert verdict.facts["event"] == "entered"
    assert verdict.facts["name"] == "BRINE LARK"
    assert verdict.facts["range_m"] == pytest.approx(400.0, abs=1.0)
    assert verdict.facts["bearing_deg"] == pytest.approx(90.0, abs=0.2)
    assert verdict.facts["count"] == 1
    assert verdict.subject.mmsi == 299000001


def test_detected_inside_counts_as_entering() -> None:
    """IMO MSC.192(79) 5.29.3: entering, or detected within."""
    scene = Scene(zone(accept_present=False))
    scene.judge(1.0)
    scene.ship(2.0, 0.0, 300.0)
    verdict = scene.judge(2.0)[KEY]
    assert verdict.holds
    assert verdict.facts["event"] == "inside"


def test_gone_only_beyond_the_deadband() -> None:
    """Out by 10 m of 25: no longer inside, not yet gone."""
    scene = Scene(zone(accept_present=False, deadband_m=25.0))
    scene.ship(1.0, 0.0, 490.0)
    assert scene.judge(1.0)[KEY].holds
    scene.ship(11.0, 0.0, 510.0)
    verdict = scene.judge(11.0)[KEY]
    assert not verdict.holds
    assert not verdict.is_gone
    scene.ship(21.0, 0.0, 530.0)
    assert scene.judge(21.0)[KEY].is_gone


def test_neighbours_are_not_raised_until_they_have_left_and_come_back() -> None:
    """One that lies inside when the watch is set; she leaves for over a minute and returns."""
    scene = Scene(zone(clear_s=60.0))
    scene.ship(1.0, 0.0, 300.0, speed=0.0)
    scene.rule.watch_set(scene.picture, 1.0)
    assert scene.judge(1.0) == {}
    scene.ship(30.0, 0.0, 450.0)
    assert scene.judge(30.0) == {}
    scene.ship(40.0, 0.0, 700.0)
    assert scene.judge(40.0) == {}
    scene.ship(70.0, 0.0, 450.0)
    assert scene.judge(70.0) == {}, "out for half a minute is not gone"
    for at_s in range(80, 170, 10):
        scene.ship(float(at_s), 0.0, 700.0)
        assert scene.judge(float(at_s)) == {}
    scene.ship(180.0, 0.0, 450.0)
    assert scene.judge(180.0)[KEY].holds


def test_a_boat_at_rest_first_heard_just_after_is_a_neighbour_too() -> None:
    """Class B at anchor reports every three minutes: heard two minutes after the daemon began
    to listen she was there before; one that makes way, or comes later, was not."""
    scene = Scene(zone())
    scene.rule.watch_set(scene.picture, 1.0)
    scene.judge(1.0)
    scene.ship(120.0, 0.0, 300.0, number=1, speed=0.1, station="B")
    scene.ship(120.0, 90.0, 300.0, number=2, speed=3.0, station="B")
    assert set(scene.judge(120.0)) == {"ais:299000002"}
    scene.ship(500.0, 180.0, 300.0, number=3, speed=0.0, station="B")
    assert "ais:299000003" in scene.judge(500.0)


def test_neighbours_are_remembered_over_a_restart() -> None:
    """And unreadable memory is left aside."""
    scene = Scene(zone())
    scene.ship(1.0, 0.0, 300.0, speed=0.0)
    scene.rule.watch_set(scene.picture, 1.0)
    scene.judge(1.0)
    kept = scene.rule.remember()
    assert kept is not None
    again = Scene(zone())
    again.rule.recall(b"\xff\x00 no memory", 1.0)
    again.rule.recall(kept, 1.0)
    again.ship(2.0, 0.0, 300.0, speed=0.0)
    assert again.judge(2.0) == {}


def test_leaving_stands_until_back_inside() -> None:
    """A boat that we keep an eye on goes off; out of the zone it stays told, back in it ends."""
    scene = Scene(zone(alarm_on="leaving", deadband_m=20.0))
    scene.ship(1.0, 0.0, 300.0)
    scene.rule.watch_set(scene.picture, 1.0)
    assert scene.judge(1.0) == {}
    for i, range_m in enumerate((520.0, 900.0, 4000.0)):
        scene.ship(11.0 + i * 90.0, 0.0, range_m)
        verdict = scene.judge(11.0 + i * 90.0)[KEY]
        assert verdict.holds
        assert verdict.facts["event"] == "left"
    scene.ship(400.0, 0.0, 490.0)
    back = scene.judge(400.0)[KEY]
    assert not back.holds
    assert not back.is_gone
    scene.ship(410.0, 0.0, 400.0)
    assert scene.judge(410.0)[KEY].is_gone


def test_both_makes_coming_and_going_alerts_of_their_own() -> None:
    """Entering ends as she leaves; leaving is another subject of the same ship."""
    scene = Scene(zone(alarm_on="both", accept_present=False, deadband_m=0.0))
    scene.ship(1.0, 0.0, 300.0)
    assert scene.judge(1.0)[KEY].holds
    scene.ship(91.0, 0.0, 600.0)
    said = scene.judge(91.0)
    assert said[KEY].is_gone
    assert said[f"{KEY}:left"].holds
    assert said[f"{KEY}:left"].subject.mmsi == 299000001
    scene.ship(181.0, 0.0, 300.0)
    said = scene.judge(181.0)
    assert said[KEY].holds
    assert said[f"{KEY}:left"].is_gone


def test_one_that_was_never_inside_does_not_leave() -> None:
    """Passing by outside is no leaving."""
    scene = Scene(zone(alarm_on="leaving"))
    for i in range(5):
        scene.ship(10.0 * i, 0.0, 600.0 + i * 50)
        assert scene.judge(10.0 * i) == {}


@pytest.mark.parametrize(
    ("ignore", "number", "speed", "range_m", "station", "raised"),
    [
        (Ignore(slower_than_ms=0.5), 1, 0.2, 300.0, "A", False),
        (Ignore(slower_than_ms=0.5), 1, 2.0, 300.0, "A", True),
        (Ignore(beyond_m=200.0), 1, 2.0, 300.0, "A", False),
        (Ignore(mmsi=(299000001,)), 1, 2.0, 300.0, "A", False),
        (Ignore(mmsi=(299000001,)), 2, 2.0, 300.0, "A", True),
        (Ignore(classes=("B",)), 1, 2.0, 300.0, "B", False),
        (Ignore(), 1, 0.0, 300.0, "base", False),
        (Ignore(kinds=()), 1, 0.0, 300.0, "base", True),
        (Ignore(mmsi=(299000001,)), 1, 0.0, 300.0, "sart", True),
    ],
)
def test_filters(
    ignore: Ignore, number: int, speed: float, range_m: float, station: str, raised: bool
) -> None:
    """Slow, far, known, by class and by kind; a distress beacon passes every filter."""
    scene = Scene(zone(ignore=ignore, accept_present=False))
    scene.ship(1.0, 0.0, range_m, number=number, speed=speed, station=station)
    assert bool(scene.judge(1.0)) is raised
    assert scene.rule.filters_in_force()


def test_a_friend_is_one_until_a_date() -> None:
    """The recording's time decides; after it the friend is a stranger again."""
    friend = Ignore(friends=(Friend(mmsi=299000001, until="1970-01-01T00:01:00"),))
    scene = Scene(zone(ignore=friend, accept_present=False))
    scene.ship(30.0, 0.0, 300.0)
    assert scene.judge(30.0) == {}
    scene.ship(61.0, 0.0, 300.0)
    assert scene.judge(61.0)[KEY].holds
    bad = Ignore(friends=(Friend(mmsi=1, until="next week"),))
    assert bad.cross_check("zone")


def test_a_slow_one_that_was_raised_stays_raised() -> None:
    """She came in at 3 kn and stopped: the filter bars raising, it does not clear."""
    scene = Scene(zone(ignore=Ignore(slower_than_ms=0.5)))
    scene.ship(1.0, 0.0, 600.0)
    scene.judge(1.0)
    scene.ship(11.0, 0.0, 300.0)
    assert scene.judge(11.0)[KEY].holds
    scene.ship(21.0, 0.0, 300.0, speed=0.0)
    assert scene.judge(21.0)[KEY].holds


def test_the_hull_is_inside_before_the_antenna() -> None:
    """A ship of 200 m, antenna aft, her bow towards us."""
    scene = Scene(zone(measure="hull", accept_present=False))
    place = offset(HERE, 0.0, 650.0)
    report = AisReport(299000001, "A", place.lat, place.lon, 0.0, None, 180.0)
    size = AisStatic(299000001, "LONG ONE", None, 70, 170.0, 30.0, 15.0, 15.0)
    put(scene.picture, 1.0, size, report, source="ais")
    verdict = scene.judge(1.0)[KEY]
    assert verdict.holds
    assert verdict.facts["range_m"] == pytest.approx(480.0 - 8.9, abs=3.0)
    antenna = Scene(zone(measure="antenna", accept_present=False))
    put(antenna.picture, 1.0, size, report, source="ais")
    assert antenna.judge(1.0) == {}


def test_what_was_assumed_is_in_the_facts() -> None:
    """No size told."""
    scene = Scene(zone(measure="hull", accept_present=False))
    scene.ship(1.0, 0.0, 300.0)
    assert "size assumed" in scene.judge(1.0)[KEY].facts["assumed"]


def test_lost_inside_is_told_again() -> None:
    """A ship inside falls silent: a warning, worse than before, with the last position; it ends
    when she is heard again."""
    scene = Scene(zone(accept_present=False))
    for i in range(8):
        scene.ship(10.0 * i, 0.0, 300.0, speed=0.0)
        scene.judge(10.0 * i)
    assert scene.judge(129.0)[KEY].facts["event"] != "lost"
    verdict = scene.judge(140.0)[KEY]
    assert verdict.holds
    assert verdict.worse
    assert verdict.facts["event"] == "lost"
    scene.ship(150.0, 0.0, 300.0, speed=0.0)
    assert scene.judge(150.0)[KEY].facts["event"] != "lost"


def test_lost_neighbours_are_not_told() -> None:
    """A boat at anchor may be silent for many minutes."""
    scene = Scene(zone())
    scene.ship(1.0, 0.0, 300.0, speed=0.0)
    scene.rule.watch_set(scene.picture, 1.0)
    for at_s in (1.0, 400.0, 1700.0):
        assert scene.judge(at_s) == {}


def test_the_lost_target_function_can_be_off_and_then_says_so() -> None:
    """IMO MSC.192(79) 5.29.5."""
    scene = Scene(zone(accept_present=False, lost_after=0))
    for i in range(8):
        scene.ship(10.0 * i, 0.0, 300.0, speed=0.0)
        scene.judge(10.0 * i)
    assert scene.judge(900.0)[KEY].facts["event"] != "lost"
    assert "lost-target function off" in scene.rule.filters_in_force()


def test_when_we_are_deaf_the_ship_is_not_lost() -> None:
    """The AIS input is dead: unknown, and the rule says what it lacks."""
    scene = Scene(zone(accept_present=False))
    scene.picture.inputs.expected = {"ais": ("ais",)}
    for i in range(8):
        scene.ship(10.0 * i, 0.0, 300.0, speed=0.0)
        scene.picture.inputs.of("ais", 10.0 * i).heard("good", "VDM", "", 10.0 * i, "AI")
        scene.picture.inputs.of("ais", 10.0 * i).heard("good", "VDO", "", 10.0 * i, "AI")
        scene.judge(10.0 * i)
    judged = scene.rule.judge(scene.picture, 140.0, frozenset(scene.open))
    assert judged.missing == ("ais",)


def test_a_target_that_is_forgotten_ends_after_half_an_hour() -> None:
    """Unknown at first; when it has been dropped from the picture the alert may end."""
    scene = Scene(zone(accept_present=False))
    scene.open.add("ais:299000009")
    assert scene.judge(100.0) == {}
    assert scene.judge(1900.0)["ais:299000009"].is_gone


def test_switched_off_nothing_new_is_raised_and_it_returns_by_itself() -> None:
    """What stands may clear; what came meanwhile is told as it returns."""
    scene = Scene(zone(accept_present=False))
    scene.ship(1.0, 0.0, 300.0)
    scene.judge(1.0)
    scene.rule.switch(False, 100.0)
    scene.ship(11.0, 90.0, 300.0, number=2)
    assert set(scene.judge(11.0)) == {KEY}
    assert scene.rule.off_until_s == 100.0
    assert set(scene.judge(100.0)) == {KEY, "ais:299000002"}
    scene.rule.switch(False, 900.0)
    scene.rule.switch(True, None)
    assert scene.rule.off_until_s is None


def test_relative_sector_without_heading() -> None:
    """At anchor nothing says where the bow is: the heading is missing. Under way the course
    serves."""
    shape = Sector(left=330.0, right=30.0, to_m=1000.0, bearings="relative")
    scene = Scene(zone(around="ship", ring=None, sector=shape))
    judged = scene.rule.judge(scene.picture, 1.0, frozenset())
    assert judged.missing == ("heading",)
    put(scene.picture, 1.0, Heading(90.0))
    scene.ship(2.0, 90.0, 500.0)
    assert scene.judge(2.0)[KEY].holds


def test_twenty_at_once_are_counted() -> None:
    """A regatta: each verdict says how many there are."""
    scene = Scene(zone(accept_present=False))
    for i in range(20):
        scene.ship(1.0, i * 18.0, 300.0, number=i)
    said = scene.judge(1.0)
    assert len(said) == 20
    assert {verdict.facts["count"] for verdict in said.values()} == {20}


def test_polygon_across_the_antimeridian() -> None:
    """Corners on both sides of 180 degrees."""
    corners = ((-17.01, 179.99), (-17.01, -179.99), (-16.99, -179.99), (-16.99, 179.99))
    rule = zone(ring=None, polygon=corners, accept_present=False)
    scene = picture()
    put(scene, 1.0, Position(-17.0, 179.999))
    for number, lon in ((1, 179.995), (2, -179.995), (3, -179.98)):
        put(scene, 1.0, AisReport(299000000 + number, "A", -17.0, lon, 0.0, None), source="ais")
    keys = {v.subject.key for v in rule.judge(scene, 1.0, frozenset()).verdicts if v.holds}
    assert keys == {"ais:299000001", "ais:299000002"}


# -- own ship ------------------------------------------------------------------------------


def own_run(rule: Zone, ranges: list[float], bearing: float = 0.0) -> list[dict[str, Verdict]]:
    scene = picture("berthed")
    rule.watch_set(scene, 0.0)
    said = []
    open_keys: set[str] = set()
    for i, range_m in enumerate(ranges):
        place = offset(HERE, bearing, range_m)
        now_s = 10.0 * i
        put(scene, now_s, Position(place.lat, place.lon), Heading(0.0))
        judged = rule.judge(scene, now_s, frozenset(open_keys))
        said.append({v.subject.key: v for v in judged.verdicts})
        open_keys = {v.subject.key for v in judged.verdicts if v.holds}
    return said


def test_own_ship_leaves_the_berth() -> None:
    """Out of a circle of 20 m about the mark: told, and stays told until she is back."""
    rule = zone(subject="own ship", alarm_on="leaving", ring=Ring(to_m=20.0), deadband_m=5.0)
    said = own_run(rule, [2.0, 10.0, 25.0, 60.0, 18.0, 5.0])
    assert [v["own"].holds for v in said] == [False, False, True, True, False, False]
    assert not said[4]["own"].is_gone
    assert said[5]["own"].is_gone
    assert said[2]["own"].facts["own"] is True


def test_own_ship_approaches_a_danger() -> None:
    """A charted rock with a ring about it; measured to her hull."""
    rock = offset(HERE, 0.0, 500.0)
    rule = zone(
        subject="own ship", around=(rock.lat, rock.lon), ring=Ring(to_m=100.0), measure="hull"
    )
    said = own_run(rule, [0.0, 380.0, 392.0, 420.0])
    assert [v["own"].holds for v in said] == [False, False, True, True]


def test_own_ship_crosses_a_line() -> None:
    """The safe side is where she is when the watch is set; the line goes on past its ends."""
    a, b = offset(HERE, 280.0, 300.0), offset(HERE, 80.0, 300.0)
    rule = zone(subject="own ship", ring=None, around="ship", line=((a.lat, a.lon), (b.lat, b.lon)))
    said = own_run(rule, [0.0, 30.0, 50.0, 60.0, 200.0, 10.0, 0.0])
    assert [v["own"].holds for v in said] == [False, False, False, True, True, False, False]


def test_own_zone_without_a_position() -> None:
    """Unknown, never gone."""
    rule = zone(subject="own ship", alarm_on="leaving", ring=Ring(to_m=20.0))
    assert rule.judge(picture("berthed"), 5.0, frozenset()).missing == ("position",)


# -- radar and pairs -----------------------------------------------------------------------


def test_a_young_echo_waits() -> None:
    """Clutter comes and goes: an echo counts after ten seconds and three updates."""
    scene = Scene(zone(accept_present=False))
    place = offset(HERE, 0.0, 300.0)
    first = None
    for t in range(30):
        if t % 2 == 0:
            put(scene.picture, float(t), RadarPlace(12, place.lat, place.lon, "tracking"),
                source="radar")  # fmt: skip
        if first is None and scene.judge(float(t)):
            first = t
    assert first is not None
    assert 9 <= first <= 12


def test_one_ship_is_one_subject_and_a_split_is_silent() -> None:
    """AIS and echo of one ship: one verdict. When they draw apart the echo is not raised as a
    new one (IMO MSC.192(79) 5.30.3)."""
    scene = Scene(zone(accept_present=False))
    seen: set[str] = set()
    for t in range(200):
        away = 0.0 if t < 60 else min(6.0 * (t - 60), 240.0)
        ship, echo = offset(HERE, 0.0, 300.0), offset(offset(HERE, 0.0, 300.0), 90.0, away)
        if t % 10 == 0:
            report = AisReport(299000001, "A", ship.lat, ship.lon, 0.0, None)
            put(scene.picture, float(t), report, source="ais")
        if t % 2 == 0:
            put(scene.picture, float(t), RadarPlace(12, echo.lat, echo.lon, "tracking"),
                source="radar")  # fmt: skip
        seen |= {k for k, v in scene.judge(float(t)).items() if v.holds}
    assert scene.picture.targets.by_key["radar:12"].split_s is not None
    assert seen == {KEY}


def test_an_alert_raised_by_radar_goes_on_under_its_name() -> None:
    """The echo was raised, then the AIS of the same ship is heard: no second alert."""
    scene = Scene(zone(accept_present=False))
    seen: set[str] = set()
    place = offset(HERE, 0.0, 300.0)
    for t in range(120):
        if t % 2 == 0:
            put(scene.picture, float(t), RadarPlace(12, place.lat, place.lon, "tracking"),
                source="radar")  # fmt: skip
        if t >= 40 and t % 10 == 0:
            scene.ship(float(t), 0.0, 300.0, speed=0.0)
        said = scene.judge(float(t))
        seen |= {k for k, v in said.items() if v.holds}
    assert seen == {"radar:12"}
    assert said["radar:12"].subject.mmsi == 299000001


# -- with the board ------------------------------------------------------------------------


def test_dithering_on_the_edge_raises_once_in_an_hour() -> None:
    """A boat on the zone's edge with 10 m of noise (1 sigma) for an hour, default deadband."""
    rule = zone(accept_present=False)
    board = Board(
        rules={"guard": rule.orders}, call_list=(), outlets=(), vessel=VESSEL, label=utc_text
    )
    board.set_watch("anchored", "aboard", 0.0)
    scene = picture()
    rng = random.Random(8)
    raised = 0
    for t in range(3600):
        put(scene, float(t), Position(HERE.lat, HERE.lon))
        if t % 10 == 0:
            place = offset(HERE, 45.0, 500.0 + rng.gauss(0.0, 10.0))
            put(scene, float(t), AisReport(299000001, "A", place.lat, place.lon, 0.1, None),
                source="ais")  # fmt: skip
        scene.targets.sweep(float(t))
        board.judged("guard", rule.judge(scene, float(t), board.open_keys("guard")), float(t))
        board.run_due(float(t))
        board.drain()
        raised = max([raised, *(record.occurrence for record in board.records())])
    assert raised == 1
    assert any(r.state is State.UNACKNOWLEDGED for r in board.records())


@pytest.mark.parametrize(
    ("keys", "wrong"),
    [
        ({"ring": None}, "ring"),
        ({"polygon": ((50.0, -5.0), (50.1, -5.0), (50.0, -4.9))}, "polygon"),
        ({"ring": Ring(from_m=500.0, to_m=500.0)}, "ring"),
        ({"ring": None, "polygon": ((50.0, -5.0), (50.1, -5.0))}, "polygon"),
        ({"ring": None, "polygon": ((0.0, 0.0), (1.0, 1.0), (1.0, 0.0), (0.0, 1.0))}, "polygon"),
        ({"subject": "own ship", "around": "ship"}, "around"),
        ({"ring": None, "line": ((50.0, -5.0), (50.1, -5.0))}, "line"),
    ],
)
def test_orders_that_cannot_be(keys: dict[str, object], wrong: str) -> None:
    """Each named by its key."""
    assert wrong in [key for key, _ in zone(**keys).orders.problems()]


def test_explain_says_all() -> None:
    """Every kind of zone tells what it will do."""
    assert zone().orders.problems() == []
    assert any("neighbours" in line for line in zone().orders.explain())
    scene = Scene(zone())
    scene.ship(1.0, 0.0, 300.0)
    (line,) = scene.rule.explain_watch(scene.picture, 2.0)
    assert "299000001" in line


def test_the_anchor_mark_may_be_missing() -> None:
    """Under way there is none: said as missing."""
    scene = picture("underway")
    scene.watch = WatchSet(watch="underway")
    put(scene, 1.0, Position(HERE.lat, HERE.lon))
    assert zone().judge(scene, 1.0, frozenset()).missing == ("anchor mark",)
    scene.watch = WatchSet(
        watch="anchored", mark=AnchorMark(lat=HERE.lat, lon=HERE.lon, set_at_s=0.0)
    )
    assert not zone().judge(scene, 1.0, frozenset()).missing


def test_the_words_of_a_lost_ship() -> None:
    """The person reads that she fell silent, and where she was last."""
    facts = {"event": "lost", "name": "BRINE LARK", "range_m": 300.0, "bearing_deg": 45.0}
    words = words_of("zone", zone().orders, facts)
    assert words.title == "LOST IN ZONE"
    assert words.line == 'BRINE LARK fell silent in "guard": last known 300 m, bearing 045'
