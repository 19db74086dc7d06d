"""The set of targets: repeats, jumps, turns, static data, own echo, the bound on their number."""

from __future__ import annotations

import pytest

from shipkeeper.picture.picture import Picture
from shipkeeper.picture.tracks import Targets
from shipkeeper.words.geo import LatLon, offset, range_bearing
from shipkeeper.words.observations import AisReport, AisStatic, Position
from shipkeeper.words.orders import Vessel

HERE = LatLon(57.1, -5.2)


def report(place: LatLon, *, speed: float | None = 0.0, course: float | None = None,
           mmsi: int = 299000001, second: int | None = None, station: str = "A",
           **more: object) -> AisReport:  # fmt: skip
    return AisReport(
        mmsi,
        station,
        place.lat,
        place.lon,
        speed,
        course,
        second=second,
        **more,  # type: ignore[arg-type]  # fields by name
    )


def the(targets: Targets) -> LatLon:
    (target,) = targets
    place = target.place()
    assert place is not None
    return place


def test_dead_reckoned_along_the_course() -> None:
    """10 m/s for 30 s is 300 m; at rest the place stays."""
    targets = Targets()
    targets.report(report(HERE, speed=10.0, course=60.0), "ais", 0.0)
    (ship,) = targets
    moved = ship.place_at(30.0)
    assert moved is not None
    distance, bearing = range_bearing(HERE, moved)
    assert distance == pytest.approx(300.0, abs=0.2)
    assert bearing == pytest.approx(60.0, abs=0.05)
    targets.report(report(HERE, speed=0.2, course=60.0), "ais", 40.0)
    assert ship.place_at(100.0) == HERE


def test_a_jump_is_held_back_until_three_reports_agree() -> None:
    """3 miles in 10 s is over 100 kn: the first two reports from there are not believed, the
    third is."""
    targets = Targets()
    targets.report(report(HERE), "ais", 0.0)
    there = offset(HERE, 90.0, 5556.0)
    for at_s in (10.0, 20.0):
        targets.report(report(there), "ais", at_s)
        assert the(targets) == HERE
    targets.report(report(there), "ais", 30.0)
    assert the(targets) == there


def test_jumps_to_ever_other_places_are_never_believed() -> None:
    """A spoofed position that hops about does not count as agreeing with itself."""
    targets = Targets()
    targets.report(report(HERE), "ais", 0.0)
    for i in range(1, 12):
        there = offset(HERE, (i * 130.0) % 360.0, 9000.0)
        targets.report(report(there), "ais", 10.0 * i)
        assert the(targets) == HERE


def test_one_wild_report_between_good_ones_changes_nothing() -> None:
    """And the good ones go on at once."""
    targets = Targets()
    for i in range(6):
        place = offset(HERE, 0.0, 50.0 * i)
        wild = offset(HERE, 180.0, 20_000.0)
        targets.report(report(wild if i == 3 else place, speed=5.0, course=0.0), "ais", 10.0 * i)
    assert the(targets) == offset(HERE, 0.0, 250.0)


def test_ninety_knots_is_a_fast_ship_and_no_jump() -> None:
    """Under 100 kn nothing is held back; nor is a ship that was silent long enough to get
    there; nor an aircraft at 200 kn."""
    targets = Targets()
    targets.report(report(HERE), "ais", 0.0)
    there = offset(HERE, 0.0, 90 * 0.5144 * 10)
    targets.report(report(there), "ais", 10.0)
    assert the(targets) == there
    far = offset(HERE, 0.0, 30_000.0)
    targets.report(report(far), "ais", 1500.0)
    assert the(targets) == far
    plane = Targets()
    plane.report(report(HERE, station="sar", mmsi=111299001), "ais", 0.0)
    plane.report(report(there := offset(HERE, 0.0, 1030.0), station="sar", mmsi=111299001),
                 "ais", 10.0)  # fmt: skip
    assert the(plane) == there


def test_two_receivers_hear_the_same_ship() -> None:
    """The repeat is not taken twice, the late one not at all: neither pulls her back."""
    targets = Targets()
    first, second = HERE, offset(HERE, 90.0, 60.0)
    targets.report(report(first, speed=6.0, course=90.0, second=10), "a", 0.0)
    targets.report(report(second, speed=6.0, course=90.0, second=20), "a", 10.0)
    targets.report(report(first, speed=6.0, course=90.0, second=10), "b", 12.0)
    targets.report(report(second, speed=6.0, course=90.0, second=20), "b", 14.0)
    (ship,) = targets
    assert ship.place() == second
    assert ship.placed_s == 10.0
    assert ship.updates == 2


def test_a_coarse_report_does_not_push_out_a_fine_one() -> None:
    """Type 27 rounds to 185 m; it counts only when nothing finer is a minute young."""
    targets = Targets()
    targets.report(report(HERE, speed=5.0, course=0.0), "ais", 0.0)
    coarse = offset(HERE, 45.0, 150.0)
    targets.report(report(coarse, station="long-range"), "ais", 20.0)
    assert the(targets) == HERE
    targets.report(report(coarse, station="long-range"), "ais", 90.0)
    assert the(targets) == coarse


def test_static_data_keeps_what_it_does_not_carry() -> None:
    """A name without size leaves the size, and the other way round."""
    targets = Targets()
    targets.static(AisStatic(299000001, "BRINE LARK", None, 70, 60.0, 20.0, 6.0, 6.0), "ais", 0.0)
    targets.static(AisStatic(299000001, None, "ABC"), "ais", 1.0)
    (ship,) = targets
    assert (ship.name, ship.callsign, ship.to_bow_m) == ("BRINE LARK", "ABC", 60.0)
    assert ship.place() is None


def test_a_turn_shows_in_the_courses() -> None:
    """A class B tells no rate of turn; two degrees a second show from report to report."""
    targets = Targets()
    course = 0.0
    for i in range(5):
        targets.report(
            report(offset(HERE, 0.0, 50.0 * i), speed=5.0, course=course, station="B"), "ais",
            10.0 * i,
        )  # fmt: skip
        course += 20.0
    (ship,) = targets
    assert ship.bent_deg_min == pytest.approx(120.0)


def test_own_echo_is_no_target() -> None:
    """By the MMSI of the orders, as VDO, and by the MMSI that our own VDO has told."""
    vessel = Vessel(name="Curlew", length_m=11.4, beam_m=3.6, mmsi=299000007)
    scene = Picture(vessel, {}, 0.0)
    scene.take(report(HERE, mmsi=299000007), "ais", 1.0)
    scene.take(report(HERE, mmsi=299000008), "ais", 1.0)
    assert len(scene.targets) == 1
    scene.take(report(HERE, mmsi=299000008, own=True), "ais", 2.0)
    scene.take(report(HERE, mmsi=299000008), "ais", 3.0)
    assert len(scene.targets) == 0


def test_the_least_threatening_are_shed() -> None:
    """With room for 50, of 80 ships the far and slow go, whatever the order of coming; a
    distress beacon stays; the load is told before it is full."""
    targets = Targets(capacity=50)
    targets.own_place = HERE
    for i in range(80):
        far = 500.0 * (80 - i)  # the latest come are the nearest
        targets.report(report(offset(HERE, 10.0 * i, far), mmsi=299000100 + i), "ais", float(i) / 9)
    beacon = offset(HERE, 0.0, 60_000.0)
    targets.report(report(beacon, mmsi=970299001, station="sart"), "ais", 9.0)
    assert targets.load > 0.95
    targets.sweep(10.0)
    assert len(targets) <= 50
    assert targets.shed_count >= 31
    kept = {target.mmsi for target in targets}
    assert {299000100 + i for i in range(40, 80)} <= kept
    assert 970299001 in kept


def test_a_flood_of_names_stays_bounded() -> None:
    """Ten times the capacity within a second: the set never grows beyond a quarter over."""
    targets = Targets(capacity=100)
    targets.own_place = HERE
    most = 0
    for i in range(1000):
        targets.report(report(offset(HERE, i * 7.0, 1000.0 + i), mmsi=299000000 + i), "ais", 0.5)
        most = max(most, len(targets))
    assert most <= 127


def test_forged_identities_do_not_push_out_a_ship_that_was_there() -> None:
    """Thirty ships followed for a minute, one of them 2 miles off and closing; then, for five
    minutes, new identities each second, near and fast, some heard again and again. All thirty
    stay, and so does one that comes in the midst of it. Seven new ones a second for room for
    200 are as many as the two AIS channels can carry for 2,000."""
    targets = Targets(capacity=200)
    targets.own_place = HERE
    came = 5000
    late = offset(HERE, 200.0, 3000.0)
    for t in range(360):
        now_s = float(t)
        if t % 10 == 0:
            for i in range(30):
                place = offset(HERE, 12.0 * i, 3704.0 + 500.0 * i)
                targets.report(report(place, mmsi=299000100 + i, speed=3.0), "ais", now_s)
        if t >= 200 and t % 6 == 0:
            targets.report(report(late, mmsi=299000099, speed=5.0), "ais", now_s)
        if t >= 60:
            for i in range(7):
                fast = report(offset(HERE, i * 51.0, 100.0), mmsi=299100000 + came, speed=15.0)
                targets.report(fast, "ais", now_s)
                came += 1
            for i in range(60):  # these are told from ships by nothing
                again = report(offset(HERE, i * 6.0, 300.0), mmsi=299090000 + i, speed=15.0)
                targets.report(again, "ais", now_s)
        targets.sweep(now_s)
        assert len(targets) <= 200
    held = {target.mmsi for target in targets}
    assert {299000100 + i for i in range(30)} <= held
    assert 299000099 in held
    assert len(targets.news.take(1e6)) <= 6 * 31, "the journal is not flooded"


def test_the_picture_knows_where_we_are() -> None:
    """The last good fix is what near and far are reckoned from."""
    scene = Picture(Vessel(name="Curlew", length_m=11.4, beam_m=3.6), {}, 0.0)
    scene.take(Position(57.1, -5.2), "gnss", 1.0)
    assert scene.targets.own_place == HERE


def test_a_ship_that_tells_no_speed_is_followed_by_her_places() -> None:
    """M.1371-5: 102.3 kn and 360 degrees mean 'not available'. Her places show what she does;
    so do those of one that tells a speed without a course."""
    for told in (None, 5.144):
        targets = Targets()
        for i in range(6):
            place = offset(HERE, 180.0, 51.44 * i)
            targets.report(report(place, speed=told, course=None), "ais", 10.0 * i)
        (ship,) = targets
        assert ship.motion() == pytest.approx((0.0, -5.144), abs=0.1)
        assert ship.place_at(80.0) == ship.place()  # where she is, is what she told
        targets.report(report(offset(HERE, 180.0, 309.0), speed=3.0, course=90.0), "ais", 60.0)
        assert ship.motion() == pytest.approx((3.0, 0.0))


def test_a_ship_at_rest_without_a_speed_stays_at_rest() -> None:
    """At the three minutes of a ship at anchor, and with metres of noise, no way is made up."""
    targets = Targets()
    for i in range(20):
        place = offset(HERE, 137.0 * i, 4.0)
        targets.report(report(place, speed=None, course=None), "ais", 180.0 * i)
    (ship,) = targets
    assert ship.motion() == (0.0, 0.0)


def test_first_heard_is_when_her_place_was() -> None:
    """A name that comes before the first position says nothing of where she has been."""
    targets = Targets()
    targets.static(AisStatic(299000001, "BRINE LARK"), "ais", 0.0)
    targets.report(report(HERE), "ais", 30.0)
    (ship,) = targets
    assert ship.first_s == 30.0


def test_a_ship_that_no_longer_tells_where_she_is_is_lost() -> None:
    """91 degrees north is 'not available' (M.1371-5): heard is not found. With a place again
    she is; one that hops about unbelieved is told as lost once."""
    targets = Targets()
    for i in range(6):
        targets.report(report(offset(HERE, 0.0, 51.4 * i), speed=5.14, course=0.0), "ais", 10.0 * i)
    (ship,) = targets
    mute = AisReport(299000001, "A", None, None, 5.14, 0.0)
    for at_s in range(60, 300, 10):
        targets.report(mute, "ais", float(at_s))
        targets.sweep(at_s + 1.0)
        assert ship.lost == (at_s + 1.0 - 50.0 > 60.0)
    targets.report(report(offset(HERE, 0.0, 1500.0), speed=5.14, course=0.0), "ais", 300.0)
    assert not ship.lost
    for i in range(20):
        there = offset(HERE, (i * 130.0) % 360.0, 9000.0)
        targets.report(report(there, speed=5.14, course=0.0), "ais", 310.0 + 10.0 * i)
        targets.sweep(311.0 + 10.0 * i)
    assert sum("is lost" in text for _, text in targets.news.take(600.0)) == 2
