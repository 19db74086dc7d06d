"""Nominal intervals and lost targets (ITU-R M.1371-5 Annex 1 tables 1 and 2; from memory)."""

from __future__ import annotations

import pytest

from shipkeeper.picture.reporting import (
    expected_scan_s,
    is_lost,
    lost_after_s,
    nominal_interval_s,
)
from shipkeeper.picture.targets import Target
from shipkeeper.picture.tracks import Targets
from shipkeeper.words.observations import AisReport
from shipkeeper.words.units import MS_PER_KN


def target(station: str, knots: float | None, status: int | None = 0, **more: object) -> Target:
    made = Target("ais:299000001", "ais", 0.0)
    made.station, made.nav_status = station, status
    made.speed_ms = None if knots is None else knots * MS_PER_KN
    for name, value in more.items():
        setattr(made, name, value)
    return made


@pytest.mark.parametrize(
    ("knots", "status", "turning", "interval"),
    [
        (0.0, 1, False, 180.0),
        (3.0, 5, False, 180.0),
        (3.1, 1, False, 10.0),
        (0.0, 0, False, 10.0),
        (14.0, 0, False, 10.0),
        (10.0, 0, True, 10.0 / 3.0),
        (20.0, 0, False, 6.0),
        (20.0, 0, True, 2.0),
        (25.0, 0, False, 2.0),
        (25.0, 0, True, 2.0),
    ],
)
def test_class_a(knots: float, status: int, turning: bool, interval: float) -> None:
    """Table 1: by speed, at anchor or moored, and changing course."""
    assert nominal_interval_s(target("A", knots, status), turning) == pytest.approx(interval)


@pytest.mark.parametrize(
    ("station", "knots", "carrier_sense", "interval"),
    [
        ("B", 1.0, False, 180.0),
        ("B", 8.0, False, 30.0),
        ("B", 20.0, False, 15.0),
        ("B", 30.0, False, 5.0),
        ("B", 2.0, True, 180.0),
        ("B", 30.0, True, 30.0),
        ("sar", 100.0, None, 10.0),
        ("aid", None, None, 180.0),
        ("base", None, None, 10.0),
        ("sart", 0.0, None, 60.0),
    ],
)
def test_class_b_and_others(
    station: str, knots: float | None, carrier_sense: bool | None, interval: float
) -> None:
    """Table 2; beacons send one burst a minute."""
    made = target(station, knots, carrier_sense=carrier_sense)
    assert nominal_interval_s(made) == interval


def heard(times: list[float], knots: float = 10.0) -> Targets:
    targets = Targets()
    for at_s in times:
        targets.report(AisReport(299000001, "A", 57.0, -5.2, knots * MS_PER_KN, 90.0), "ais", at_s)
    return targets


def test_lost_after_six_missed_reports() -> None:
    """A class A ship at 10 kn reports every 10 s: lost after 60 s of silence, not at 60 s."""
    targets = heard([10.0 * i for i in range(12)])
    (ship,) = targets
    assert not is_lost(ship, 110.0 + 60.0)
    assert is_lost(ship, 110.0 + 60.5)
    assert is_lost(ship, 110.0 + 31.0, missed=3)
    assert not is_lost(ship, 110.0 + 900.0, missed=0)


def test_a_ship_heard_once_a_minute_has_that_rhythm() -> None:
    """A thinned or distant feed does not make every gap a loss."""
    (ship,) = heard([70.0 * i for i in range(12)])
    assert lost_after_s(ship) == pytest.approx(420.0, rel=0.05)


def test_a_boat_at_anchor_may_be_silent_for_minutes() -> None:
    """Class B at rest: six times three minutes."""
    made = target("B", 0.1)
    made.updates, made.interval_s = 10, 175.0
    assert lost_after_s(made) == 1080.0


def test_the_sweep_marks_and_a_report_clears() -> None:
    """Lost is marked once a second and ends with new data."""
    targets = heard([10.0 * i for i in range(12)])
    (ship,) = targets
    targets.sweep(200.0)
    assert ship.lost
    assert "lost" in targets.news.take(1e6)[-1][1]
    targets.report(AisReport(299000001, "A", 57.0, -5.2, 5.0, 90.0), "ais", 210.0)
    assert not ship.lost


def test_dead_reckoning_ends_where_the_target_is_lost() -> None:
    """Its last place is where it would have been then, not miles on."""
    (ship,) = heard([10.0 * i for i in range(12)])
    then, later = ship.place_at(170.0), ship.place_at(1000.0)
    assert then == later


def test_dropped_after_half_an_hour() -> None:
    """Nothing is kept for ever."""
    targets = heard([0.0, 10.0])
    targets.sweep(1809.0)
    assert len(targets) == 1
    targets.sweep(1811.0)
    assert len(targets) == 0


@pytest.mark.parametrize(("turns", "scan"), [(24, 2.5), (36, 1.667), (48, 1.25)])
def test_the_scan_of_a_radar(turns: int, scan: float) -> None:
    """24, 36 and 48 turns a minute (common practice, no source), from a noisy interval."""
    assert expected_scan_s(60.0 / turns + 0.1) == pytest.approx(scan, abs=0.01)
    assert expected_scan_s(None) == 2.5
