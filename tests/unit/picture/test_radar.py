"""Radar: echoes placed, smoothed to the accuracy of the standard, joined to their AIS reports."""

from __future__ import annotations

import math
import random
import statistics

import pytest

from shipkeeper.picture.echoes import Echoes
from shipkeeper.picture.smoothing import Smoother
from shipkeeper.picture.targets import Target
from shipkeeper.picture.tracks import Targets
from shipkeeper.words.geo import (
    LatLon,
    angle_difference,
    from_east_north,
    offset,
    plane_bearing,
    range_bearing,
    velocity,
)
from shipkeeper.words.observations import AisReport, RadarEcho, RadarPlace
from shipkeeper.words.units import M_PER_NM, MS_PER_KN

HERE = LatLon(57.1, -5.2)


def ttm(targets: Targets, at_s: float, *, number: int = 7, range_m: float | None = 3000.0,
        bearing: float | None = 45.0, relative: bool = False, speed: float | None = 5.0,
        course: float | None = 200.0, course_relative: bool = False, status: str = "tracking",
        heading: float | None = 30.0, own: tuple[float, float] | None = (0.0, 0.0),
        place: LatLon | None = HERE) -> Target | None:  # fmt: skip
    echo = RadarEcho(
        number, range_m, bearing, relative, speed, course, course_relative,
        status,  # type: ignore[arg-type]  # a Literal as text
    )  # fmt: skip
    targets.echo(echo, "radar", at_s, own_place=place, heading_deg=heading, own_velocity=own)
    return targets.get(f"radar:{number}")


def test_true_and_relative_bearings() -> None:
    """Relative: the heading is added; without a heading there is no place, and no guess."""
    for relative, heading, wanted in ((False, None, 45.0), (True, 30.0, 75.0)):
        echo = ttm(Targets(), 0.0, relative=relative, heading=heading)
        assert echo is not None
        place = echo.place()
        assert place is not None
        distance, bearing = range_bearing(HERE, place)
        assert distance == pytest.approx(3000.0, abs=1.0)
        assert bearing == pytest.approx(wanted, abs=0.05)
    blind = ttm(Targets(), 0.0, relative=True, heading=None)
    assert blind is not None
    assert blind.place() is None


def test_a_relative_course_is_that_of_the_relative_motion() -> None:
    """Own ship north at 5 m/s; an echo that comes straight down at 5 m/s stands still."""
    echo = ttm(Targets(), 0.0, course=180.0, course_relative=True, heading=0.0, own=(5.0, 0.0))
    assert echo is not None
    assert echo.speed_ms == pytest.approx(0.0, abs=1e-6)
    unknown = ttm(Targets(), 0.0, course=180.0, course_relative=True, heading=0.0, own=None)
    assert unknown is not None
    assert unknown.speed_ms is None


def test_lost_by_the_radars_own_word() -> None:
    """Status L, and back with the next look."""
    targets = Targets()
    ttm(targets, 0.0)
    echo = ttm(targets, 2.5, status="lost")
    assert echo is not None
    assert echo.lost
    ttm(targets, 5.0)
    assert not echo.lost


def test_a_number_given_out_anew_is_a_new_target() -> None:
    """Number 7 lost here and found three miles off is another ship: another key."""
    targets = Targets()
    ttm(targets, 0.0)
    ttm(targets, 2.5, status="lost")
    ttm(targets, 60.0, range_m=9000.0, bearing=200.0)
    assert set(targets.by_key) == {"radar:7", "radar:7/2"}


def test_own_echo_is_dropped() -> None:
    """Within own length of the antenna."""
    targets = Targets(own_reach_m=11.4)
    assert ttm(targets, 0.0, range_m=5.0) is None


def test_two_radars_may_use_the_same_number() -> None:
    """By input."""
    targets = Targets()
    for source, lat in (("one", 57.0), ("two", 57.2)):
        targets.echo(RadarPlace(3, lat, -5.0, "tracking"), source, 0.0, own_place=None,
                     heading_deg=None, own_velocity=None)  # fmt: skip
    assert len(targets) == 2


def test_impossible_echoes_do_nothing() -> None:
    """Nothing but a lost of an unknown number: no target."""
    made = Echoes()
    lost = RadarEcho(1, None, None, False, None, None, False, "lost")
    assert made.put({}, lost, "radar", 0.0, HERE, None, None) is None


# -- smoothing -------------------------------------------------------------------------------

# Noise of one look, 1 sigma: range 20 m and bearing 0.15 degrees (orders of the sensor errors
# of IMO A.823(19), from memory), then the rounding of TTM: 0.01 NM and 0.1 degree.
RANGE_SIGMA_M, BEARING_SIGMA_DEG = 20.0, 0.15

# Scenarios of IMO A.823(19): own speed, bearing, range, relative course and speed, and the 95 %
# errors of relative course (deg) and speed (kn) after one minute (read in source) and three
# (from memory). See tests/data/navigation/encounters.json.
SCENARIOS = [
    (10.0, 0.0, 8.0, 180.0, 20.0, (11.0, 2.8), (3.0, 0.8)),
    (10.0, 0.0, 1.0, 90.0, 10.0, (7.0, 0.6), (2.3, 0.3)),
    (5.0, 45.0, 8.0, 225.0, 20.0, (14.0, 2.2), (4.4, 0.9)),
    (25.0, 45.0, 8.0, 225.0, 20.0, (15.0, 1.5), (4.6, 0.8)),
]


@pytest.mark.parametrize("turns", [24, 36, 48])
@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_accuracy_after_one_and_three_minutes(number: int, turns: int) -> None:
    """95 % of 40 noisy tracks are within the table, at each turning rate of the antenna."""
    own_kn, bearing, range_nm, course, speed_kn, after_1, after_3 = SCENARIOS[number - 1]
    errors: dict[float, list[tuple[float, float]]] = {60.0: [], 180.0: []}
    for seed in range(40):
        for after_s, error in _track(
            seed, own_kn, bearing, range_nm, course, speed_kn, 60.0 / turns
        ).items():
            errors[after_s].append(error)
    for after_s, (degrees, knots) in ((60.0, after_1), (180.0, after_3)):
        courses = sorted(c for c, _ in errors[after_s])
        speeds = sorted(s for _, s in errors[after_s])
        assert courses[37] <= degrees
        assert speeds[37] <= knots


def _track(seed: int, own_kn: float, bearing: float, range_nm: float, course: float,
           speed_kn: float, scan_s: float) -> dict[float, tuple[float, float]]:  # fmt: skip
    """Errors of relative course (deg) and speed (kn) after one and three minutes."""
    rng = random.Random(seed)
    own = velocity(own_kn * MS_PER_KN, 0.0)
    relative = velocity(speed_kn * MS_PER_KN, course)
    east, north = velocity(range_nm * M_PER_NM, bearing)
    smoother, t = None, 0.0
    said: dict[float, tuple[float, float]] = {}
    while t <= 184.0:
        x, y = east + relative[0] * t, north + relative[1] * t
        seen_range = math.hypot(x, y) + rng.gauss(0.0, RANGE_SIGMA_M)
        seen_bearing = plane_bearing(x, y) + rng.gauss(0.0, BEARING_SIGMA_DEG)
        seen_range = round(seen_range / 18.52) * 18.52
        seen_bearing = round(seen_bearing, 1)
        here = from_east_north(HERE, own[0] * t, own[1] * t)
        place = from_east_north(here, *velocity(seen_range, seen_bearing))
        if smoother is None:
            smoother = Smoother(place, t)
        else:
            smoother.put(place, t)
        for after_s in (60.0, 180.0):
            if t >= after_s and after_s not in said:
                ve = smoother.velocity[0] - own[0]
                vn = smoother.velocity[1] - own[1]
                off = abs(angle_difference(plane_bearing(ve, vn), course))
                said[after_s] = off, abs(math.hypot(ve, vn) / MS_PER_KN - speed_kn)
        t += scan_s
    return said


def test_a_turn_shows_within_a_minute() -> None:
    """A ship at 12 kn turns 90 degrees: a minute after she has steadied up her smoothed course
    is within 15 degrees of the new one, on the mean of ten noisy tracks."""
    offs = []
    for seed in range(10):
        rng = random.Random(seed)
        x, y, t, course = 0.0, 4000.0, 0.0, 90.0
        smoother = Smoother(from_east_north(HERE, x, y), 0.0)
        while t < 300.0:
            t += 2.5
            if 180.0 <= t < 240.0:
                course += 1.5 * 2.5
            ve, vn = velocity(6.2, course)
            x, y = x + ve * 2.5, y + vn * 2.5
            noisy = from_east_north(HERE, x + rng.gauss(0, 15), y + rng.gauss(0, 15))
            smoother.put(noisy, t)
        offs.append(abs(angle_difference(plane_bearing(*smoother.velocity), 180.0)))
    assert statistics.mean(offs) < 15.0


def test_the_radars_own_course_is_smoothed() -> None:
    """A stated course that jitters by 8 degrees and a knot settles."""
    targets, rng = Targets(), random.Random(1)
    for i in range(60):
        ttm(targets, 2.5 * i, speed=5.0 + rng.gauss(0, 0.5), course=200.0 + rng.gauss(0, 8.0))
    echo = targets.get("radar:7")
    assert echo is not None
    assert echo.course_deg == pytest.approx(200.0, abs=4.0)
    assert echo.speed_ms == pytest.approx(5.0, abs=0.4)


# -- association -----------------------------------------------------------------------------


def play(echo_off: list[float], course_of_echo: float = 90.0) -> Targets:
    """An AIS ship on course 090 at 5 m/s and an echo `off` metres north of her, second by
    second."""
    targets = Targets()
    targets.own_place = HERE
    start = offset(HERE, 0.0, 2000.0)
    for t, off in enumerate(echo_off):
        ship = offset(start, 90.0, 5.0 * t)
        if t % 6 == 0:
            targets.report(
                AisReport(299000001, "A", ship.lat, ship.lon, 5.0, 90.0), "ais", float(t)
            )
        if t % 2 == 0:
            echo = offset(ship, 0.0, off)
            distance, bearing = range_bearing(HERE, echo)
            ttm(targets, float(t), range_m=distance, bearing=bearing, speed=5.0,
                course=course_of_echo)  # fmt: skip
        targets.sweep(float(t))
    return targets


def test_echo_and_report_of_one_ship_are_joined() -> None:
    """Within the radar's accuracy and moving alike, for some seconds."""
    targets = play([30.0] * 30)
    assert targets.by_key["radar:7"].partner == "ais:299000001"
    assert targets.by_key["ais:299000001"].partner == "radar:7"


def test_a_lost_echo_lets_its_ship_go() -> None:
    """The radar loses her and finds her again under another number: one ship still."""
    targets = play([20.0] * 40)
    place = targets.by_key["ais:299000001"].place_at(40.0)
    assert place is not None
    ttm(targets, 40.0, status="lost")
    for t in range(41, 80):
        if t % 6 == 0:
            ship = offset(place, 90.0, 5.0 * (t - 40))
            targets.report(
                AisReport(299000001, "A", ship.lat, ship.lon, 5.0, 90.0), "ais", float(t)
            )
        distance, bearing = range_bearing(HERE, offset(place, 90.0, 5.0 * (t - 40)))
        ttm(targets, float(t), number=8, range_m=distance, bearing=bearing, course=90.0)
        targets.sweep(float(t))
    (echo,) = [t for t in targets if t.kind == "radar"]
    assert echo.number == 8
    assert echo.partner == "ais:299000001"


def test_two_ships_that_only_pass_are_not() -> None:
    """Near, but on the opposite course."""
    targets = play([30.0] * 30, course_of_echo=270.0)
    assert targets.by_key["radar:7"].partner is None


def test_hysteresis_of_the_pair() -> None:
    """A pair stays together where two strangers would not be joined; far apart it splits, and
    the stamp of the split is kept."""
    gate = 75.0 + 0.03 * 2000.0 + 31.0
    edge = 1.4 * gate
    assert play([edge] * 40).by_key["radar:7"].partner is None
    assert play([20.0] * 20 + [edge] * 60).by_key["radar:7"].partner is not None
    apart = play([20.0] * 20 + [20.0 + 20.0 * i for i in range(30)] + [600.0] * 60)
    assert apart.by_key["radar:7"].partner is None
    assert apart.by_key["ais:299000001"].partner is None
    assert apart.by_key["radar:7"].split_s is not None


def silent_after(stops: float, until: float, lost: float = math.inf) -> Targets:
    """As `play`, but her AIS stops, and later the echo too."""
    targets = Targets()
    targets.own_place = HERE
    for t in range(int(until)):
        ship = offset(offset(HERE, 0.0, 2000.0), 90.0, 5.0 * t)
        if t % 6 == 0 and t < stops:
            report = AisReport(299000001, "A", ship.lat, ship.lon, 5.0, 90.0, second=t % 60)
            targets.report(report, "ais", float(t))
        if t % 2 == 0 and t < lost:
            distance, bearing = range_bearing(HERE, ship)
            ttm(targets, float(t), range_m=distance, bearing=bearing, speed=5.0, course=90.0)
        targets.sweep(float(t))
    return targets


def test_a_silent_ship_is_where_her_echo_is() -> None:
    """Longer than a silent target is kept: her name stays, and she is not lost."""
    targets = silent_after(60.0, 3000.0)
    ship, echo = targets.by_key["ais:299000001"], targets.by_key["radar:7"]
    assert ship.led_s == 54.0 and not ship.lost
    assert ship.partner == echo.key and ship.source == echo.source
    where = ship.place_at(3000.0)
    assert where is not None
    assert range_bearing(where, offset(offset(HERE, 0.0, 2000.0), 90.0, 15_000.0))[0] < 60.0
    near = [row[0].key for row in targets.plot(3000.0).near(where, 500.0)]
    assert set(near) == {"ais:299000001", "radar:7"}


def test_a_ship_that_nobody_sees_any_more_is_lost() -> None:
    targets = silent_after(60.0, 400.0, lost=300.0)
    assert targets.by_key["ais:299000001"].lost
    assert targets.by_key["ais:299000001"].placed_s == 298.0


def test_her_next_report_leads_again() -> None:
    """Also with the second of a minute that an old report might have had."""
    targets = silent_after(60.0, 300.0)
    ship = targets.by_key["ais:299000001"]
    place = ship.place_at(300.0)
    assert place is not None and ship.led_s is not None
    targets.report(
        AisReport(299000001, "A", place.lat, place.lon, 5.0, 90.0, second=40), "ais", 300.0
    )
    assert targets.by_key["ais:299000001"].led_s is None
    assert (ship.source, ship.placed_s) == ("ais", 300.0)


@pytest.mark.parametrize("word", [True, False])
def test_one_ship_under_a_new_number_is_one_target(word: bool) -> None:
    """The tracker lost her (by its own word, or started anew) and calls her 19 now: the same
    target goes on, with a steady course at once; number 7 is free for another."""
    targets = Targets()
    for i in range(40):
        at_s = 2.5 * i
        if i == 20 and word:
            ttm(targets, at_s, range_m=3000.0 - 5.0 * at_s, course=225.0, status="lost")
        if 20 <= i < 23:
            continue
        ttm(targets, at_s, number=7 if i < 20 else 19, range_m=3000.0 - 5.0 * at_s, course=225.0)
    (ship,) = targets
    assert ship.key == "radar:7" and ship.label == "radar target 19" and not ship.lost
    assert ship.updates > 30
    ttm(targets, 100.0, number=7, range_m=1000.0, bearing=200.0)
    assert {t.label for t in targets} == {"radar target 19", "radar target 7"}


@pytest.mark.parametrize(
    ("range_m", "bearing", "course", "silent"),
    [
        (2500.0, 45.0, 225.0, 2.5),  # elsewhere
        (2740.0, 45.0, 45.0, 2.5),  # there, but bound another way
        (2740.0, 45.0, 225.0, 100.0),  # long after
    ],
)
def test_another_ship_near_where_one_was_lost_is_another(
    range_m: float, bearing: float, course: float, silent: float
) -> None:
    """A stranger must not go by the name of a ship that is acknowledged or a neighbour."""
    targets = Targets()
    for i in range(20):
        ttm(targets, 2.5 * i, range_m=3000.0 - 12.5 * i, course=225.0)
    ttm(targets, 50.0, range_m=2750.0, course=225.0, status="lost")
    for i in range(8):
        ttm(targets, 50.0 + silent + 2.5 * i, number=19, range_m=range_m, bearing=bearing,
            course=course)  # fmt: skip
    assert {t.key for t in targets} == {"radar:7", "radar:19"}


def test_two_ships_side_by_side_keep_their_numbers() -> None:
    """Both are heard all the time: the one tracked later is no continuation of the other."""
    targets = Targets()
    for i in range(60):
        ttm(targets, 2.5 * i, range_m=3000.0 - 12.5 * i, course=225.0)
        if i > 20:
            ttm(targets, 2.5 * i + 0.1, number=8, range_m=3050.0 - 12.5 * i, course=225.0)
    assert {t.key for t in targets} == {"radar:7", "radar:8"}
