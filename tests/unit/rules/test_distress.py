"""Distress: active and test told apart, ours first, texts, aids off position."""

from __future__ import annotations

import pytest

from shipkeeper.rules.distress import Distress, DistressOrders
from shipkeeper.words.geo import LatLon, offset
from shipkeeper.words.observations import AisAid, AisReport, AisText, Position
from shipkeeper.words.verdict import Verdict

from .helpers import VESSEL, picture, put

HERE = LatLon(50.0, -5.0)
# The beacon forms of ITU-R M.585-9: 970 SART, 972 MOB, 974 EPIRB-AIS; serials are invented.
SART, MOB, EPIRB = 970299001, 972299001, 974299001


def beacon(
    mmsi: int, station: str, status: int | None, range_m: float | None = 3000.0
) -> AisReport:
    place = None if range_m is None else offset(HERE, 45.0, range_m)
    return AisReport(
        mmsi, station, place.lat if place else None, place.lon if place else None, nav_status=status
    )


def judged(*facts: object, now_s: float = 100.0, opened: frozenset[str] = frozenset(),
           rule: Distress | None = None) -> dict[str, Verdict]:  # fmt: skip
    scene = picture()
    put(scene, 100.0, Position(HERE.lat, HERE.lon))
    for fact in facts:
        put(scene, 100.0, fact, source="ais")  # type: ignore[arg-type]  # observations of many kinds
    by = rule or DistressOrders().build(VESSEL)
    return {v.subject.key: v for v in by.judge(scene, now_s, opened).verdicts}


@pytest.mark.parametrize(
    ("mmsi", "station", "device"),
    [(SART, "sart", "AIS-SART"), (MOB, "mob", "MOB beacon"), (EPIRB, "epirb", "EPIRB-AIS")],
)
def test_active(mmsi: int, station: str, device: str) -> None:
    """Status 14: raised at once, with range and bearing."""
    verdict = judged(beacon(mmsi, station, 14))[f"ais:{mmsi:09d}"]
    assert verdict.holds
    assert verdict.priority is None
    assert verdict.facts["device"] == device
    assert verdict.facts["test"] is False
    assert verdict.facts["range_m"] == pytest.approx(3000.0, abs=3.0)
    assert verdict.facts["bearing_deg"] == pytest.approx(45.0, abs=0.2)


def test_on_test() -> None:
    """Status 15 with a TEST text: a caution, and marked; none at all when switched off."""
    facts = (beacon(SART, "sart", 15), AisText(SART, "SART TEST"))
    verdict = judged(*facts)[f"ais:{SART}"]
    assert verdict.priority == "caution"
    assert verdict.facts["test"] is True
    assert not judged(*facts, rule=DistressOrders(tests=False).build(VESSEL))


@pytest.mark.parametrize(
    ("status", "text"), [(15, "SART ACTIVE"), (14, "SART TEST"), (None, ""), (0, "")]
)
def test_in_doubt_it_calls_for_help(status: int | None, text: str) -> None:
    """Status and text at odds, or neither told: active."""
    said = [AisText(SART, text)] if text else []
    verdict = judged(beacon(SART, "sart", status), *said)[f"ais:{SART}"]
    assert verdict.facts["test"] is False


def test_a_beacon_without_a_position_is_raised_all_the_same() -> None:
    """Its own receiver may not have a fix yet."""
    verdict = judged(beacon(MOB, "mob", 14, None))[f"ais:{MOB}"]
    assert verdict.holds
    assert verdict.facts["range_m"] is None


def test_only_its_text_was_heard() -> None:
    """The text alone is enough."""
    assert judged(AisText(MOB, "MOB ACTIVE"))[f"ais:{MOB}"].holds


def test_a_mob_beacon_near_us_may_be_one_of_ours() -> None:
    """Within half a mile: an emergency alarm."""
    assert judged(beacon(MOB, "mob", 14, 200.0))[f"ais:{MOB}"].priority == "emergency alarm"
    assert judged(beacon(SART, "sart", 14, 200.0))[f"ais:{SART}"].priority is None


def test_a_ship_with_a_beacons_status_is_a_warning() -> None:
    """Most often a slip on her bridge."""
    assert judged(beacon(299000001, "A", 14))["ais:299000001"].priority == "warning"


def test_silence_is_not_safety() -> None:
    """A beacon that was heard and is silent now: unknown, never gone, for half an hour."""
    facts = beacon(MOB, "mob", 14)
    assert not judged(facts, now_s=750.0, opened=frozenset({f"ais:{MOB}"}))


def test_safety_texts_are_cautions_for_ten_minutes() -> None:
    """Of a station that is no beacon; the alert ends by itself."""
    text = AisText(299000001, "GUNNERY AREA ACTIVE")
    verdict = judged(text)["text:299000001"]
    assert verdict.priority == "caution"
    assert verdict.facts["text"] == "GUNNERY AREA ACTIVE"
    late = judged(text, now_s=701.0, opened=frozenset({"text:299000001"}))
    assert late["text:299000001"].is_gone


@pytest.mark.parametrize(
    ("off", "virtual", "range_m", "holds"),
    [(True, False, 2000.0, True), (False, False, 2000.0, False), (True, True, 2000.0, False),
     (True, False, 9000.0, False)],
)  # fmt: skip
def test_aids_off_position(off: bool, virtual: bool, range_m: float, holds: bool) -> None:
    """A buoy adrift nearby is a caution; a virtual one cannot drift; a far one is not ours."""
    place = offset(HERE, 45.0, range_m)
    said = judged(
        AisReport(992991001, "aid", place.lat, place.lon),
        AisAid(992991001, "MIDDLE BANK", off, virtual, 25),
    )
    assert bool(said) is holds
    if holds:
        assert said["ais:992991001"].priority == "caution"
