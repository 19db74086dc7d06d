"""Proximity: limits, curves, hulls, lost ships, range alone, hysteresis with the board."""

from __future__ import annotations

import math
import random

import pytest

from shipkeeper.alerts.board import Board
from shipkeeper.picture.picture import Picture
from shipkeeper.rules.filters import Ignore
from shipkeeper.rules.proximity import Proximity, ProximityOrders
from shipkeeper.rules.sight import look
from shipkeeper.rules.table import target_table
from shipkeeper.rules.threat import surely_clear, threat_of
from shipkeeper.rules.zone_orders import Ring, ZoneOrders
from shipkeeper.words.geo import LatLon, offset
from shipkeeper.words.observations import AisReport, AisStatic, Heading, Position, Velocity
from shipkeeper.words.timing import utc_text
from shipkeeper.words.units import MS_PER_KN
from shipkeeper.words.verdict import Verdict

from .helpers import VESSEL, picture, put

HERE = LatLon(50.0, -5.0)
KEY = "ais:299000001"


def rule(**keys: object) -> Proximity:
    plain: dict[str, object] = {
        "name": "close", "cpa_m": 500.0, "tcpa_s": 720.0, "within_m": 8000.0,
        "measure": "antenna",
    }  # fmt: skip
    if "range_m" in keys:
        plain |= {"cpa_m": None, "tcpa_s": None}
    orders = ProximityOrders(**(plain | keys))  # type: ignore[arg-type]  # keys of many types, by name
    return orders.build(VESSEL)


def scene(watch: str = "anchored") -> Picture:
    made = picture(watch)
    put(made, 100.0, Position(HERE.lat, HERE.lon))
    return made


def ship(made: Picture, bearing: float, range_m: float, course: float, speed: float = 5.0,
         at_s: float = 100.0, **more: object) -> None:  # fmt: skip
    place = offset(HERE, bearing, range_m)
    report = AisReport(299000001, "A", place.lat, place.lon, speed, course, **more)  # type: ignore[arg-type]  # fields by name
    put(made, at_s, report, source="ais")


def judge(by: Proximity, made: Picture, now_s: float = 100.0, *opened: str) -> Verdict | None:
    judged = by.judge(made, now_s, frozenset(opened))
    assert not judged.missing
    return judged.verdicts[0] if judged.verdicts else None


@pytest.mark.parametrize(
    ("abeam_m", "ahead_m", "speed", "holds"),
    [
        (499.0, 3000.0, 5.0, True),
        (501.0, 3000.0, 5.0, False),
        (400.0, 3590.0, 5.0, True),
        (400.0, 3610.0, 5.0, False),
    ],
)
def test_both_limits_must_be_met(abeam_m: float, ahead_m: float, speed: float, holds: bool) -> None:
    """IMO MSC.192(79) 5.29.1: CPA 500 m and TCPA 12 min, just inside and just outside each.
    At anchor own velocity is zero whatever the GNSS says."""
    made = scene()
    put(made, 100.0, Velocity(0.6, 77.0))
    place = offset(offset(HERE, 0.0, ahead_m), 90.0, abeam_m)
    report = AisReport(299000001, "A", place.lat, place.lon, speed, 180.0)
    put(made, 100.0, report, source="ais")
    verdict = judge(rule(), made)
    assert (verdict is not None and verdict.holds is True) is holds


def test_what_the_text_needs() -> None:
    """Name, range, bearing, CPA, TCPA, where she passes, bow crossing and the doubt."""
    made = scene()
    put(made, 100.0, Heading(0.0))
    put(made, 100.0, AisStatic(299000001, "HARROW TIDE", None, 70, 80.0, 20.0, 8.0, 8.0),
        source="ais")  # fmt: skip
    place = offset(offset(HERE, 0.0, 300.0), 90.0, 2000.0)
    put(made, 100.0, AisReport(299000001, "A", place.lat, place.lon, 6.0, 270.0, 270.0),
        source="ais")  # fmt: skip
    verdict = judge(rule(), made)
    assert verdict is not None
    facts = verdict.facts
    assert facts["name"] == "HARROW TIDE"
    assert facts["cpa_m"] == pytest.approx(300.0, abs=2.0)
    assert facts["tcpa_s"] == pytest.approx(2000.0 / 6.0, abs=1.0)
    assert facts["passes"] == "ahead"
    assert facts["bow_range_m"] == pytest.approx(300.0, abs=2.0)
    assert facts["relative_deg"] == pytest.approx(81.5, abs=0.3)
    assert facts["uncertainty_m"] >= 30.0
    assert facts["curved"] is False


def test_receding_and_resting_ships_do_not_hold() -> None:
    """Past the closest point, or both at rest: no forecast; the alert may end."""
    made = scene()
    ship(made, 0.0, 300.0, 0.0)
    assert judge(rule(), made) is None
    gone = judge(rule(), made, 100.0, KEY)
    assert gone is not None
    assert gone.is_gone
    ship(made, 0.0, 300.0, 0.0, speed=0.1, at_s=110.0)
    put(made, 110.0, Position(HERE.lat, HERE.lon))
    assert judge(rule(), made, 110.0) is None


def test_a_minute_before_it_is_told_at_once() -> None:
    """No confirming delay is due when there is no time."""
    made = scene()
    ship(made, 0.0, 250.0, 180.0)
    verdict = judge(rule(), made)
    assert verdict is not None
    assert verdict.at_once


def test_a_ship_that_turns_towards_us_is_judged_on_her_curve() -> None:
    """Straight on she passes a mile off; turning to port at 20 degrees a minute she comes.
    The text says so."""
    made = scene()
    ship(made, 45.0, 2500.0, 270.0, speed=6.0)
    assert judge(rule(), made) is None
    ship(made, 45.0, 2500.0, 270.0, speed=6.0, at_s=110.0, turn_deg_min=-20.0)
    put(made, 110.0, Position(HERE.lat, HERE.lon))
    verdict = judge(rule(), made, 110.0)
    assert verdict is not None
    assert verdict.holds
    assert verdict.facts["curved"] is True
    assert verdict.facts["turn_deg_min"] == -20.0


def test_hulls_meet_before_antennas() -> None:
    """A ship of 300 m with her antenna aft, broadside on: the CPA is hull to hull."""
    made = scene()
    put(made, 100.0, Heading(0.0))
    size = AisStatic(299000001, "LONG ONE", None, 80, 260.0, 40.0, 20.0, 20.0)
    put(made, 100.0, size, source="ais")
    place = offset(offset(HERE, 0.0, 60.0), 90.0, 3000.0)
    put(made, 100.0, AisReport(299000001, "A", place.lat, place.lon, 8.0, 270.0, 270.0),
        source="ais")  # fmt: skip
    verdict = judge(rule(measure="hull"), made)
    assert verdict is not None
    assert verdict.facts["cpa_m"] == pytest.approx(60.0 - 20.0 - 8.9, abs=1.0)
    assert verdict.facts["tcpa_s"] == pytest.approx((3000.0 - 260.0 - 1.8) / 8.0, abs=2.0)


@pytest.mark.parametrize("keys", [{"measure": "hull"}, {"measure": "antenna"},
                                  {"measure": "hull", "range_m": 200.0}])  # fmt: skip
def test_the_quick_look_never_clears_a_threat(keys: dict[str, object]) -> None:
    """Who is passed over by her antenna alone is no threat to the exact reckoning either; and
    most are passed over. Ships of every size about us, on every course. Nor is one
    who stays clear a threat later on, wherever own antenna swings to meanwhile."""
    orders = rule(**keys).orders
    rng, passed, held, lasts = random.Random(5), 0, 0, 0
    for _ in range(4000):
        made = scene()
        put(made, 100.0, Heading(rng.uniform(0, 359)))
        arms = (rng.uniform(0, 250), rng.uniform(0, 250), rng.uniform(0, 30), rng.uniform(0, 30))
        put(made, 100.0, AisStatic(299000001, "ONE", None, 80, *arms), source="ais")
        away, heading = rng.uniform(10, 9000) * rng.random(), rng.uniform(0, 359)
        ship(made, rng.uniform(0, 360), away, rng.uniform(0, 360), rng.uniform(0.2, 15.0),
             heading_deg=rng.choice([None, heading]))  # fmt: skip
        sight = look(made, VESSEL, 100.0, orders.measure)
        (target,) = made.targets
        assert target.lat is not None and target.lon is not None
        place = sight.plane(target.lat, target.lon)
        assert place is not None
        threat = threat_of(orders, target, place, sight)
        held += threat.holds
        if surely_clear(orders, target, place, sight):
            passed += 1
            assert not threat.holds
        if surely_clear(orders, target, place, sight, own_moves_m=100.0):
            lasts += 1
            (te, tn), later_s = target.motion(), rng.uniform(0.0, 900.0)
            turn, by_m = rng.uniform(0.0, 6.3), 100.0 * rng.random()
            moved = (place[0] + te * later_s - by_m * math.sin(turn),
                     place[1] + tn * later_s - by_m * math.cos(turn))  # fmt: skip
            assert not threat_of(orders, target, moved, sight).holds
    assert held > 50
    assert passed > 2000
    assert lasts > 1000 or orders.range_m is not None


def test_range_alone() -> None:
    """Simply too close: within 50 m hull to hull, whatever she does; gone beyond the band."""
    made = scene()
    put(made, 100.0, Heading(0.0))
    size = AisStatic(299000001, "NEAR", None, 36, 6.0, 6.0, 2.0, 2.0)
    put(made, 100.0, size, source="ais")
    by = rule(range_m=50.0, measure="hull")
    cases = ((101.0, 50.0, True, False), (111.0, 66.0, False, False), (121.0, 120.0, False, True))
    for at_s, range_m, holds, gone in cases:
        place = offset(HERE, 90.0, range_m)
        put(made, at_s, Position(HERE.lat, HERE.lon), Heading(0.0))
        put(made, at_s, AisReport(299000001, "B", place.lat, place.lon, 0.0, None, 0.0),
            source="ais")  # fmt: skip
        verdict = judge(by, made, at_s, KEY)
        assert verdict is not None
        assert (verdict.holds, verdict.is_gone) == (holds, gone)


def test_range_alone_tells_what_she_will_do() -> None:
    """Raised by how near she is now; the forecast is her own: she comes straight for us."""
    made = scene()
    put(made, 100.0, Heading(0.0))
    ship(made, 90.0, 60.0, 270.0, 2.0)
    verdict = judge(rule(range_m=100.0), made)
    assert verdict is not None
    assert verdict.value == pytest.approx(60.0, abs=0.5)
    assert verdict.facts["cpa_m"] == pytest.approx(0.0, abs=0.5)
    assert verdict.facts["tcpa_s"] == pytest.approx(30.0, abs=0.5)


def test_beyond_within_nobody_is_looked_at() -> None:
    """And an alert ends when its ship goes there."""
    made = scene()
    ship(made, 0.0, 9000.0, 180.0, speed=14.0)
    assert judge(rule(), made) is None
    verdict = judge(rule(), made, 100.0, KEY)
    assert verdict is not None
    assert verdict.is_gone


def test_lost_on_a_closing_course() -> None:
    """A ship that was closing falls silent: told again as lost, and not cleared by silence."""
    made, by = scene(), rule(cpa_m=200.0)
    for i in range(8):
        at_s = 100.0 + 10.0 * i
        put(made, at_s, Position(HERE.lat, HERE.lon))
        ship(made, 0.0, 3000.0 - 50.0 * i, 180.0, at_s=at_s)
        made.targets.sweep(at_s)
    now_s = 170.0 + 65.0
    put(made, now_s, Position(HERE.lat, HERE.lon))
    made.targets.sweep(now_s)
    verdict = judge(by, made, now_s, KEY)
    assert verdict is not None
    assert verdict.holds
    assert verdict.worse
    assert verdict.facts["event"] == "lost"


def test_own_course_unknown_under_way() -> None:
    """Nothing to reckon with: said as missing; with a speed and a heading she is reckoned."""
    made = scene("underway")
    ship(made, 0.0, 3000.0, 180.0)
    assert rule().judge(made, 100.0, frozenset()).missing == ("course",)
    put(made, 100.0, Velocity(3.0, None), Heading(0.0))
    assert judge(rule(), made) is not None


def test_identity_may_not_be_hidden_for_ever() -> None:
    """A proximity rule takes friends with a date, no bare MMSI."""
    assert rule(ignore=Ignore(mmsi=(299000001,))).orders.problems()
    assert not rule().orders.problems()
    assert rule(cpa_m=None).orders.problems()
    assert rule(range_m=50.0, cpa_m=100.0).orders.problems()


def test_a_dithering_cpa_raises_once_in_an_hour() -> None:
    """A ship on station whose forecast CPA wanders about the limit: speed and course with the
    noise of AIS, own ship under way beside her for an hour."""
    by = rule(cpa_m=1000.0, tcpa_s=3600.0, within_m=20_000.0)
    board = Board(
        rules={"close": by.orders}, call_list=(), outlets=(), vessel=VESSEL, label=utc_text
    )
    board.set_watch("underway", "aboard", 0.0)
    made, rng = picture("underway"), random.Random(3)
    raised = 0
    for t in range(3600):
        put(made, float(t), Position(HERE.lat, HERE.lon), Velocity(0.0, 0.0))
        if t % 10 == 0:
            # She steams round us at 6,000 m, her course always 9.6 degrees off our bearing:
            # CPA 1,000 m, with a tenth of a degree of noise.
            bearing = t / 20.0
            place = offset(HERE, bearing, 6000.0)
            course = (bearing + 180.0 + 9.594 + rng.gauss(0.0, 0.15)) % 360.0
            put(made, float(t), AisReport(299000001, "A", place.lat, place.lon, 5.0, course),
                source="ais")  # fmt: skip
        made.targets.sweep(float(t))
        board.judged("close", by.judge(made, float(t), board.open_keys("close")), float(t))
        board.run_due(float(t))
        board.drain()
        raised = max([raised, *(record.occurrence for record in board.records())])
    assert raised == 1


def test_the_table_of_targets() -> None:
    """Every column, None where nothing is known; zones and filters by name; the nearest first."""
    made = scene()
    put(made, 100.0, Heading(90.0))
    ship(made, 0.0, 300.0, 180.0)
    far = offset(HERE, 180.0, 3000.0)
    put(made, 100.0, AisReport(299000002, "base", far.lat, far.lon), source="ais")
    put(made, 100.0, AisStatic(299000003, "NO PLACE"), source="ais")
    guard = ZoneOrders(name="guard", ring=Ring(to_m=500.0), accept_present=False).build(VESSEL)
    guard.judge(made, 100.0, frozenset())
    rows = target_table(made, [guard, rule()], 100.0)
    assert [row["identity"] for row in rows] == ["299000001", "299000002", "299000003"]
    near = rows[0]
    assert near["range_m"] == pytest.approx(300.0, abs=0.5)
    assert near["relative_deg"] == pytest.approx(270.0, abs=0.1)
    assert near["tcpa_s"] == pytest.approx(60.0, abs=0.5)
    assert near["zones"] == ["guard"]
    assert "guard: kind" in rows[1]["left_out_by"]
    assert rows[2]["range_m"] is None
    assert rows[2]["name"] == "NO PLACE"


def test_the_table_tells_a_way_that_the_places_show() -> None:
    """With what it is from; a base station, which has no speed to tell, gets none."""
    made = scene()
    base = offset(HERE, 180.0, 3000.0)
    for i in range(6):
        there = offset(HERE, 0.0, 2000.0 - 50.0 * i)
        at_s = 100.0 + 10.0 * i
        put(made, at_s, Position(HERE.lat, HERE.lon))
        put(made, at_s, AisReport(299000001, "A", there.lat, there.lon), source="ais")
        put(made, at_s, AisReport(299000002, "base", base.lat, base.lon), source="ais")
    ship_row, base_row = target_table(made, [rule()], 150.0)
    assert ship_row["speed_ms"] == pytest.approx(5.0, abs=0.1)
    assert ship_row["course_deg"] == pytest.approx(180.0, abs=1.0)
    assert ship_row["cpa_m"] == pytest.approx(0.0, abs=20.0)
    assert "from its places" in ship_row["assumed"]
    assert base_row["speed_ms"] is None and base_row["cpa_m"] is None


def test_speeds_of_the_demo() -> None:
    """5 kn is no slower than 5 kn."""
    slow = Ignore(slower_than_ms=5 * MS_PER_KN)
    made = scene()
    ship(made, 0.0, 1500.0, 180.0, speed=4.9 * MS_PER_KN)
    assert judge(rule(ignore=slow), made) is None
    ship(made, 0.0, 1500.0, 180.0, speed=5.1 * MS_PER_KN)
    assert judge(rule(ignore=slow), made) is not None
