"""CPA, TCPA and bow crossing against published and exactly computed cases.

Sources stand in each row of tests/data/navigation/encounters.json: NGA Pub. 1310, IMO Res.
A.823(19) and MSC.64(67) scenarios, licence examinations, geographiclib minima.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from shipkeeper.picture.encounter import approach, bow_crossing, encounter
from shipkeeper.picture.picture import Picture
from shipkeeper.picture.watch import WatchSet
from shipkeeper.rules.proximity import ProximityOrders
from shipkeeper.words.geo import LatLon, angle_difference, east_north, plane_bearing, velocity
from shipkeeper.words.observations import AisReport, Position
from shipkeeper.words.observations import Velocity as Motion
from shipkeeper.words.orders import Vessel
from shipkeeper.words.units import M_PER_NM, MS_PER_KN

from . import values

ALL = {row["id"]: row for row in values.rows(
    "encounters", "cpa", "cpa-true-motion", "cpa-latlon", "bow-crossing")}  # fmt: skip
YARD_M = 0.9144


def at(bearing_deg: float, range_m: float) -> tuple[float, float]:
    return velocity(range_m, bearing_deg)


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_imo_tracking_scenarios(number: int) -> None:
    """Relative motion given: CPA, TCPA, and the true motion that follows from it."""
    row = ALL[f"cpa-imo-scenario-{number}"]
    i, want, tolerance = row["inputs"], row["expected"], row["tolerance"]
    own = velocity(i["own_speed_kn"] * MS_PER_KN, i["own_course"])
    relative = velocity(i["rel_speed_kn"] * MS_PER_KN, i["rel_course"])
    true = own[0] + relative[0], own[1] + relative[1]
    assert math.hypot(*true) / MS_PER_KN == pytest.approx(want["true_speed"], abs=0.006)
    assert plane_bearing(*true) == pytest.approx(want["true_course"], abs=tolerance["deg"])
    met = encounter(*at(i["brg"], i["rng_nm"] * M_PER_NM), own, true)
    assert met.cpa_m / M_PER_NM == pytest.approx(want["cpa_nm"], abs=tolerance["nm"])
    assert met.tcpa_s is not None
    assert met.tcpa_s / 60 == pytest.approx(want["tcpa_min"], abs=tolerance["min"])
    if want.get("bcr_nm") is not None:
        assert met.bow_range_m is not None and met.bow_time_s is not None
        assert met.bow_range_m / M_PER_NM == pytest.approx(want["bcr_nm"], abs=tolerance["nm"])
        assert met.bow_time_s / 60 == pytest.approx(want["bct_min"], abs=tolerance["min"])


def test_pub_1310_example_1() -> None:
    """NGA Pub. 1310 ch. 6 example 1, read in source: from the first and last plot, DRM 130,
    SRM 10 kn, CPA 220 at 6,900 yd at 0937."""
    row = ALL["cpa-pub1310-ex1"]
    plots, want, tolerance = row["inputs"]["obs"], row["expected"], row["tolerance"]

    def minutes(text: str) -> int:
        return int(text[:2]) * 60 + int(text[2:])

    first, last = plots[0], plots[-1]
    a = at(first["brg"], first["rng_yd"] * YARD_M)
    b = at(last["brg"], last["rng_yd"] * YARD_M)
    passed = (minutes(last["t"]) - minutes(first["t"])) * 60.0
    run = (b[0] - a[0]) / passed, (b[1] - a[1]) / passed
    assert plane_bearing(*run) == pytest.approx(want["drm_deg"], abs=tolerance["deg"])
    assert math.hypot(*run) / MS_PER_KN == pytest.approx(want["srm_kn"], abs=tolerance["kn"])
    met = encounter(*a, (0.0, 0.0), run)
    assert met.cpa_m / YARD_M == pytest.approx(want["cpa_yd"], abs=tolerance["yd"])
    assert met.cpa_bearing_deg == pytest.approx(want["cpa_brg_deg"], abs=tolerance["deg"])
    assert met.tcpa_s is not None
    after = want["tcpa_min_after_0908"]
    assert met.tcpa_s / 60 == pytest.approx(after, abs=tolerance["min"])


@pytest.mark.parametrize(
    "row",
    [r for r in ALL.values() if "rng_nm" in r["inputs"] and "target_course" in r["inputs"]
     and r["id"] != "cpa-chiefmate-2006-B"],  # its printed answer does not reproduce (see source)
    ids=values.ids,
)  # fmt: skip
def test_two_ships_on_steady_courses(row: dict[str, Any]) -> None:
    """Both motions given: exact plane cases, examination plots, bow crossings."""
    i, want, tolerance = row["inputs"], row["expected"], row["tolerance"]
    own = velocity(i["own_speed_kn"] * MS_PER_KN, i["own_course"])
    target = velocity(i["target_speed_kn"] * MS_PER_KN, i["target_course"])
    place = at(i["brg"], i["rng_nm"] * M_PER_NM)
    cpa, tcpa = approach(*place, target[0] - own[0], target[1] - own[1])
    nm = tolerance.get("nm", tolerance.get("cpa_nm"))
    minutes = tolerance.get("min", tolerance.get("tcpa_min"))
    assert cpa / M_PER_NM == pytest.approx(want["cpa_nm"], abs=nm)
    if want["tcpa_min"] is None:
        assert tcpa is None
    else:
        assert tcpa is not None
        assert tcpa / 60 == pytest.approx(want["tcpa_min"], abs=minutes)
    if "forward_only_min_nm" in want:
        met = encounter(*place, own, target)
        assert met.cpa_m / M_PER_NM == pytest.approx(want["forward_only_min_nm"], abs=nm)
    if "bcr_nm" in want:
        bow = bow_crossing(*place, target[0] - own[0], target[1] - own[1], i["own_course"])
        if want["bcr_nm"] is None:
            assert bow == (None, None)
        else:
            assert bow[0] is not None and bow[1] is not None
            assert bow[0] / M_PER_NM == pytest.approx(want["bcr_nm"], abs=nm)
            assert bow[1] / 60 == pytest.approx(want["bct_min"], abs=minutes)


@pytest.mark.parametrize("row", [r for r in ALL.values() if r["topic"] == "cpa-latlon"],
                         ids=values.ids)  # fmt: skip
def test_from_latitude_and_longitude(row: dict[str, Any]) -> None:
    """The numerical minimum of the geodesic distance (geographiclib), within 5 m and 1 s: also
    over the antimeridian, at 70 N, and an hour ahead at 60 N."""
    own, target, want = row["inputs"]["own"], row["inputs"]["target"], row["expected"]
    east, north = east_north(LatLon(own["lat"], own["lon"]), LatLon(target["lat"], target["lon"]))
    a = velocity(own["sog_kn"] * MS_PER_KN, own["cog"])
    b = velocity(target["sog_kn"] * MS_PER_KN, target["cog"])
    cpa, tcpa = approach(east, north, b[0] - a[0], b[1] - a[1])
    assert tcpa is not None
    assert cpa == pytest.approx(want["dcpa_m"], abs=5.0)
    assert tcpa == pytest.approx(want["tcpa_s"], abs=1.0)
    assert math.hypot(east, north) == pytest.approx(want["range_m"], abs=5.0)
    assert abs(angle_difference(plane_bearing(east, north), want["bearing"])) < 0.4


@pytest.mark.parametrize("row", [r for r in ALL.values() if r["topic"] == "cpa-latlon"
                                 and r["expected"]["tcpa_s"] > 0], ids=values.ids)  # fmt: skip
def test_the_rule_says_the_same(row: dict[str, Any]) -> None:
    """The whole way, from report to verdict: the proximity rule's CPA and TCPA are those."""
    own, target, want = row["inputs"]["own"], row["inputs"]["target"], row["expected"]
    vessel = Vessel(name="Curlew", length_m=11.4, beam_m=3.6)
    scene = Picture(vessel, {}, 0.0)
    scene.watch = WatchSet(watch="underway" if own["sog_kn"] else "anchored")
    scene.take(Position(own["lat"], own["lon"]), "gnss", 100.0)
    scene.take(Motion(own["sog_kn"] * MS_PER_KN, own["cog"]), "gnss", 100.0)
    speed = target["sog_kn"] * MS_PER_KN
    scene.take(
        AisReport(299000001, "A", target["lat"], target["lon"], speed, target["cog"]), "ais", 100.0
    )
    rule = ProximityOrders(
        name="close", cpa_m=10_000.0, tcpa_s=7200.0, within_m=50_000.0, measure="antenna"
    ).build(vessel)
    (verdict,) = rule.judge(scene, 100.0, frozenset()).verdicts
    assert verdict.holds
    assert verdict.facts["cpa_m"] == pytest.approx(want["dcpa_m"], abs=5.0)
    assert verdict.facts["tcpa_s"] == pytest.approx(want["tcpa_s"], abs=1.0)
