"""Sensors by name and unit; contacts by sense; neither ever judged without data."""

from __future__ import annotations

from typing import Literal

from shipkeeper.picture.channel import Reading
from shipkeeper.rules.contact import ContactOrders
from shipkeeper.rules.sensor import SensorOrders, read_limit
from shipkeeper.words.observations import Measurement

from .helpers import VESSEL, picture, put


def test_a_battery_below_its_limit() -> None:
    """12.0 V is below 12.1 V; 12.15 V is inside the deadband of 1 %; 12.3 V is gone."""
    rule = SensorOrders(name="house battery", measures="BATT", below="12.1 V").build(VESSEL)
    scene = picture()
    seen = []
    for t, volts in enumerate([12.0, 12.15, 12.3]):
        put(scene, float(t), Measurement("BATT", "U", volts, "V"))
        verdict = rule.judge(scene, float(t), frozenset()).verdicts[0]
        seen.append((verdict.holds, verdict.is_gone, verdict.value, verdict.limit, verdict.unit))
    assert seen == [
        (True, False, 12.0, 12.1, "V"),
        (False, False, 12.15, 12.1, "V"),
        (False, True, 12.3, 12.1, "V"),
    ]


def test_hectopascals_are_the_sentences_bars() -> None:
    """XDR sends pressure in bar; people write hPa and read hPa."""
    assert read_limit("995 hPa") == (0.995, "B", "hPa")
    rule = SensorOrders(name="glass", measures="BARO", falls_by="3 hPa", over_s=3600.0).build(
        VESSEL
    )
    scene = picture()
    verdict = None
    for t in range(0, 1800, 30):
        put(scene, float(t), Measurement("BARO", "P", 1.013 - 0.004 * t / 1800, "B"))
        verdict = rule.judge(scene, float(t), frozenset()).verdicts[0]
    assert verdict is not None
    assert verdict.holds
    assert verdict.unit == "hPa"
    assert 3.0 < (verdict.value or 0) < 4.1


def test_a_glass_that_falls_slowly_over_three_hours() -> None:
    """3 hPa in 3 h by a sentence a second, as seamen judge it (common practice, no source): the
    whole of the three hours is looked back on, and no longer."""
    rule = SensorOrders(name="glass", measures="BARO", falls_by="3 hPa", over_s=10_800.0).build(
        VESSEL
    )
    scene = picture()
    holds, last = [], None
    for t in range(0, 36_000, 1):
        fallen = 0.0035 * min(t, 10_800) / 10_800
        put(scene, float(t), Measurement("BARO", "P", 1.013 - fallen, "B"))
        last = rule.judge(scene, float(t), frozenset()).verdicts[0]
        holds += [t] if last.holds else []
    assert 10_800 * 3 / 3.5 - 1 <= holds[0] <= 10_800 * 3 / 3.5 + 30
    assert holds[-1] < 10_800 * 2
    assert last is not None and last.is_gone and last.value == 0.0
    assert len(rule._past) <= 514


def test_a_limit_below_zero_is_told_as_it_is() -> None:
    """A freezer at -9 C, to be kept below -12 C; and one that shall not freeze below -5 C."""
    for orders, limit in (
        (SensorOrders(name="freezer", measures="T", above="-12 C"), -12.0),
        (SensorOrders(name="lines", measures="T", below="-5 C"), -5.0),
    ):
        scene = picture()
        put(scene, 0.0, Measurement("T", "C", -9.0, "C"))
        verdict = orders.build(VESSEL).judge(scene, 0.0, frozenset()).verdicts[0]
        assert (verdict.holds, verdict.value, verdict.limit) == (True, -9.0, limit)
        assert verdict.facts["limit"] == limit


def test_a_change_below_zero_is_refused() -> None:
    """It would hold for ever."""
    orders = SensorOrders(name="x", measures="X", falls_by="-3 hPa", deadband="-1 hPa")
    assert {key for key, _ in orders.problems()} == {"falls_by", "deadband"}


def test_a_sensor_that_is_silent_or_in_another_unit_is_unknown() -> None:
    """Never heard, too old, or in degrees instead of volts: missing by its name."""
    rule = SensorOrders(name="house battery", measures="BATT", below="12.1 V").build(VESSEL)
    scene = picture()
    assert rule.judge(scene, 0.0, frozenset()).missing == ("BATT",)
    put(scene, 0.0, Measurement("BATT", "C", 12.0, "C"))
    assert rule.judge(scene, 0.0, frozenset()).missing == ("BATT",)
    put(scene, 1.0, Measurement("BATT", "U", 12.0, "V"))
    assert rule.judge(scene, 1.0, frozenset()).verdicts[0].holds
    assert rule.judge(scene, 200.0, frozenset()).missing == ("BATT",)


def test_bad_limits_are_told_with_the_units_there_are() -> None:
    """Each faulty limit by its key; mixed units are refused."""
    orders = SensorOrders(name="x", measures="X", below="12 knots", above="9")
    assert {key for key, _ in orders.problems()} == {"below", "above"}
    mixed = SensorOrders(name="x", measures="X", below="12 V", above="30 C")
    assert mixed.problems()[0][0] == "measures"


def test_a_contact_has_either_sense() -> None:
    """A float that closes, or a shore-power relay that opens."""
    scene = picture()
    cases: tuple[tuple[Literal["closed", "open"], bool, bool], ...] = (
        ("closed", True, True),
        ("closed", False, False),
        ("open", False, True),
        ("open", True, False),
    )
    for when, closed, holds in cases:
        rule = ContactOrders(name="bilge float", line=22, when=when).build(VESSEL)
        scene.contacts["bilge float"] = Reading(closed, "gpio", 0.0)
        assert rule.judge(scene, 0.0, frozenset()).verdicts[0].holds is holds


def test_a_contact_that_cannot_be_read_is_unknown() -> None:
    """No line, no word: missing, not open."""
    rule = ContactOrders(name="bilge float", line=22).build(VESSEL)
    scene = picture()
    assert rule.judge(scene, 0.0, frozenset()).missing == ("contact",)
    scene.contacts["bilge float"] = Reading(None, "gpio", 0.0)
    assert rule.judge(scene, 0.0, frozenset()).missing == ("contact",)
