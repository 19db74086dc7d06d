"""Way made astern, bow to the wind: what counts as it, and what does not."""

from math import cos, radians, sin

from shipkeeper.rules.anchoring.stern_way import SternWay

NORTH_WIND = (0.0, 1.0)  # blows from the north: the vector points towards it


def go(
    *,
    heading_deg: float = 0.0,
    course_deg: float = 180.0,
    speed_ms: float = 0.25,
    span_s: int = 90,
    step_s: float = 1.0,
    doppler: bool = True,
    towards_wind: tuple[float, float] | None = NORTH_WIND,
    wind_ms: float = 8.0,
    believed: bool = True,
    stop_s: float = 1e9,
) -> float:
    """What a boat that lay still for two minutes, then moved so, is said to have made good."""
    way, t, x, y = SternWay(), 0.0, 0.0, 0.0
    heading = (sin(radians(heading_deg)), cos(radians(heading_deg)))
    while t < 120.0 + span_s:
        moving = 120.0 <= t < 120.0 + stop_s
        east = speed_ms * sin(radians(course_deg)) if moving else 0.0
        north = speed_ms * cos(radians(course_deg)) if moving else 0.0
        t += step_s
        x, y = x + east * step_s, y + north * step_s
        velocity = (east, north) if doppler else (None, None)
        way.feed(t, x, y, velocity, believed, heading, towards_wind, wind_ms)
    return way.even_m


def test_a_steady_way_astern_is_told_in_metres() -> None:
    # 0.25 m/s for 90 s; the newest seconds of the fixes are smoothed.
    assert 18.0 < go() < 22.5
    assert 8.0 < go(span_s=45) < 13.0


def test_at_any_usual_rate_of_fixes() -> None:
    assert 17.5 < go(step_s=0.1) < 22.5
    assert 17.0 < go(step_s=5.0) < 22.5


def test_it_stands_between_two_looks_at_a_high_rate() -> None:
    way, seen = SternWay(), []
    for n in range(1200):
        t = 0.1 * n
        way.feed(t, 0.0, -0.25 * t, (0.0, -0.25), True, (0.0, 1.0), NORTH_WIND, 8.0)
        seen.append(way.even_m)
    assert min(seen[-100:]) > 15.0


def test_drifting_across_the_wind_is_none() -> None:
    assert go(heading_deg=80.0, course_deg=180.0) == 0.0
    assert go(heading_deg=270.0, course_deg=90.0) == 0.0  # straight astern, but abeam of the wind


def test_sailing_about_is_none() -> None:
    assert go(heading_deg=20.0, course_deg=90.0) < 1.0
    assert go(course_deg=0.0) == 0.0  # ahead


def test_one_step_back_in_a_gust_is_none() -> None:
    assert go(speed_ms=0.5, stop_s=12.0, span_s=60) < 1.0


def test_nothing_without_doppler_heading_wind_or_a_believed_fix() -> None:
    assert go(doppler=False) == 0.0
    assert go(towards_wind=None) == 0.0
    assert go(wind_ms=1.0) == 0.0
    assert go(believed=False) == 0.0
    assert go(towards_wind=(0.1, 0.3)) == 0.0  # wind from everywhere


def test_a_gap_begins_anew() -> None:
    way = SternWay()
    for t in range(100):
        way.feed(float(t), 0.0, -0.25 * t, (0.0, -0.25), True, (0.0, 1.0), NORTH_WIND, 8.0)
    assert way.even_m > 15.0
    way.feed(130.0, 0.0, -33.0, (0.0, -0.25), True, (0.0, 1.0), NORTH_WIND, 8.0)
    assert way.even_m == 0.0
    way.feed(131.0, 0.0, -33.2, (0.0, -0.25), True, None, NORTH_WIND, 8.0)
    assert way.even_m == 0.0
