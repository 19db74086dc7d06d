"""Texts: what a person reads, from whatever facts a rule gives. Written by us, plain English."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.alerts.phrases import TITLE_MAX, clean, fit
from shipkeeper.alerts.wording import KINDS, body, words_of
from shipkeeper.alerts.wording_ships import proximity, zone
from shipkeeper.rules.proximity import ProximityOrders
from shipkeeper.words.orders import RuleOrders

ORDERS = RuleOrders(name="inner guard zone", response="look out")
KEYS = [
    "name",
    "range_m",
    "bearing_deg",
    "course_deg",
    "speed_ms",
    "zone",
    "event",
    "assumed",
    "source",
    "cpa_m",
    "tcpa_s",
    "passes",
    "bow_range_m",
    "bow_time_s",
    "uncertainty_m",
    "curved",
    "excess_m",
    "distance_m",
    "reach_m",
    "anchor_sigma_m",
    "made_good_m",
    "made_good_deg",
    "missing",
    "mode",
    "odds",
    "depth_m",
    "reference",
    "limit_m",
    "eta_s",
    "rate_ms",
    "mean_ms",
    "gust_ms",
    "from_deg",
    "shift_deg",
    "frame",
    "value",
    "unit",
    "over_s",
    "closed",
    "input",
    "fault",
    "affected",
    "last_data_s",
    "lat",
    "lon",
    "device",
    "test",
    "text",
    "what",
    "why",
    "alert",
    "count",
    "rules",
    "from",
    "to",
    "own",
    "deep",
]
ANYTHING = st.one_of(
    st.none(),
    st.booleans(),
    st.floats(),
    st.integers(-(10**9), 10**9),
    st.text(max_size=30),
    st.lists(st.text(max_size=8), max_size=4),
    st.sampled_from(("left", "lost", "gap", "shift", "gust", "forecast", "shoaling", "aid")),
)


@given(
    kind=st.sampled_from([*KINDS, "no such kind"]),
    facts=st.dictionaries(st.sampled_from(KEYS), ANYTHING, max_size=20),
)
def test_no_fact_missing_or_wrong_breaks_a_text(kind: str, facts: dict[str, object]) -> None:
    """Whatever a rule gives, there is a title of 16 characters and a line for people."""
    words = words_of(kind, ORDERS, facts)
    assert len(words.title) <= TITLE_MAX
    assert words.line
    text = body(words, ORDERS, raised=None, held_s=None, data_age_s=None, data_lost=False)
    assert "nan" not in text.lower().split()
    assert text.endswith("Do: look out.")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_has_words_without_any_fact(kind: str) -> None:
    """Nothing known is told as nothing known."""
    words = words_of(kind, ORDERS, {})
    assert words.title
    assert words.line


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("CURLEW@@@@@", "CURLEW"),
        ("  TWO   WORDS ", "TWO WORDS"),
        ("BAD\x1b[31mRED\r\nNEXT", "BAD [31mRED NEXT"),
        ("RIGHT\u202eTO LEFT", "RIGHT TO LEFT"),
        ("ZERO\u200bWIDTH", "ZERO WIDTH"),
        ("X" * 100, "X" * 40),
    ],
)
def test_names_from_the_air_are_cleaned(name: str, told: str) -> None:
    """No control sign, no change of direction, no padding, and never long."""
    assert clean(name) == told


def test_titles_have_no_cut_off_blank() -> None:
    """Sixteen characters at most."""
    assert fit("FIFTEEN LETTERS AND MORE") == "FIFTEEN LETTERS"


@pytest.mark.parametrize(
    ("kind", "facts", "title", "parts"),
    [
        (
            "zone",
            {"name": "TERN", "range_m": 350.0, "bearing_deg": 45.0, "event": "entered",
             "speed_ms": 1.8, "course_deg": 270.0},
            "IN GUARD ZONE",
            ("TERN", "350 m", "045", "3.5 kn", "270"),
        ),
        (
            "zone",
            {"name": "TERN", "range_m": 350.0, "bearing_deg": 45.0, "event": "left"},
            "LEFT ZONE",
            ("TERN has left", "350 m"),
        ),
        (
            "proximity",
            {"name": "TERN", "range_m": 1852.0, "bearing_deg": 5.0, "cpa_m": 90.0,
             "tcpa_s": 480.0, "passes": "ahead", "uncertainty_m": 60.0},
            "CLOSE SHIP",
            ("90 m", "8 min", "1.00 NM", "005", "Passes ahead", "60 m"),
        ),
        (
            "drag",
            {"mode": "radius", "excess_m": 7.1, "distance_m": 52.1, "bearing_deg": 45.0},
            "ANCHOR DRAGS",
            ("7.1 m", "52 m", "045"),
        ),
        (
            "depth",
            {"depth_m": 2.14, "limit_m": 2.5, "reference": "keel", "event": "level"},
            "SHALLOW",
            ("2.1 m under the keel", "limit 2.5 m"),
        ),
        (
            "depth",
            {"depth_m": 1.6, "limit_m": 1.0, "reference": "keel", "event": "forecast",
             "eta_s": 2400.0, "touches_s": 5400.0, "low_s": 9000.0, "low_m": -0.6},
            "LOW WATER SOON",
            ("Will be under 1.0 m under the keel in about 40 min; now 1.6 m. ",
             "Will touch in about 90 min. "),
        ),
        (
            "depth",
            {"depth_m": 2.3, "limit_m": 2.5, "reference": "waterline", "event": "level",
             "low_s": 7200.0, "low_m": 2.04},
            "SHALLOW",
            ("2.3 m of water, limit 2.5 m. Low water in about 2 h: 2.0 m of water. ",),
        ),
        (
            "feed",
            {"input": "gnss", "fault": "silent", "affected": ["drag", "shoal"]},
            "WATCH IS BLIND",
            ('"gnss"', "says nothing", "drag, shoal"),
        ),
        (
            "distress",
            {"name": "972299001", "device": "MOB", "range_m": 400.0, "bearing_deg": 10.0,
             "test": True},
            "MOB TEST",
            ("MOB (TEST)", "400 m", "010"),
        ),
        (
            "sensor",
            {"name": "battery", "event": "below", "value": 11.9, "unit": "V", "limit": 12.1},
            "BATTERY LOW",
            ("battery is 11.9 V, below 12.1 V",),
        ),
        (
            "sensor",
            {"name": "engine room air", "event": "above", "value": 12345.0, "unit": "rpm"},
            "ENGINE ROOM AIR",  # no room for HIGH
            ("engine room air is 12345 rpm, above its limit",),
        ),
        (
            "wind",
            {"mean_ms": 15.0, "gust_ms": 14.0, "from_deg": 52.0, "frame": "true"},
            "WIND",
            ("Wind 29.2 kn from 052 (true). ",),  # a lull is no gust
        ),
        ("contact", {"name": "bilge float", "closed": True}, "BILGE FLOAT", ("closed",)),
    ],
)  # fmt: skip
def test_what_each_kind_says(
    kind: str, facts: dict[str, object], title: str, parts: tuple[str, ...]
) -> None:
    """What, how far, where: the numbers a person acts on."""
    words = words_of(kind, ORDERS, facts)
    text = body(words, ORDERS, raised=None, held_s=None, data_age_s=4.0, data_lost=False)
    assert words.title == title
    for part in (*parts, "Data 4 s old", 'Order "inner guard zone"'):
        assert part in text, text


def test_lost_data_is_told_with_its_age() -> None:
    """An active alert whose input is gone says since when."""
    words = words_of("drag", ORDERS, {})
    text = body(words, ORDERS, raised=None, held_s=None, data_age_s=45.0, data_lost=True)
    assert "Data is lost: last 45 s ago" in text


def test_a_range_that_is_not_known_is_said_in_words() -> None:
    """Own position is lost while a target is in a zone: no '? m' at three in the morning."""
    words = words_of("zone", RuleOrders(name="bay"), {"name": "BRINE LARK"})
    assert words.line == 'BRINE LARK is in "bay": how far is not known'


@pytest.mark.parametrize("todo", ["go on deck", "go on deck.", "who is it?", "all hands!"])
def test_what_to_do_ends_as_it_was_written(todo: str) -> None:
    """The response of the orders is the skipper's own words: one full stop, or their own."""
    orders = RuleOrders(name="bay", response=todo)
    words = words_of("zone", orders, {"name": "BRINE LARK", "range_m": 50.0})
    text = body(words, orders, raised=None, held_s=None, data_age_s=None, data_lost=False)
    assert text.endswith("Do: " + (todo if todo[-1] in ".?!" else todo + "."))


@pytest.mark.parametrize(
    ("facts", "says", "never"),
    [
        ({"cpa_m": 0.0, "uncertainty_m": 200.0}, "within 200 m in", "+/-"),
        # The doubt is wider than the limit: it is no distance at which she passes.
        ({"cpa_m": 0.0, "uncertainty_m": 2000.0}, "0 m (+/- 1.08 NM) off", "within"),
        (
            {"cpa_m": 0.0, "uncertainty_m": 200.0, "passes": "astern", "bow_range_m": -3.0,
             "bow_time_s": 400.0},
            "On which side is not sure",
            "astern",
        ),
        (
            {"cpa_m": 500.0, "uncertainty_m": 200.0, "passes": "astern", "bow_range_m": -650.0,
             "bow_time_s": 400.0},
            "Passes astern: crosses 600 m off",
            "sure",
        ),
        ({"cpa_m": 20.0, "uncertainty_m": 200.0, "passes": "port"}, "side is not sure", "port"),
        ({"cpa_m": 300.0, "uncertainty_m": 200.0, "passes": "port"}, "Passes to port", "sure"),
    ],
)  # fmt: skip
def test_a_forecast_is_never_finer_than_its_data(
    facts: dict[str, object], says: str, never: str
) -> None:
    """On a collision course nobody can say 'passes astern'."""
    orders = ProximityOrders(name="close", cpa_m=555.6, tcpa_s=720.0)
    base = {"name": "TERN", "range_m": 1852.0, "bearing_deg": 5.0, "tcpa_s": 480.0}
    words = proximity(orders, base | facts)
    told = " ".join((words.line, *words.more))
    assert says in told and never not in told


def test_a_ship_at_rest_is_given_no_course() -> None:
    """Below half a knot a course is noise (common practice, no source)."""
    base = {"name": "ALDER", "range_m": 120.0, "bearing_deg": 40.0, "event": "inside",
            "course_deg": 0.0}  # fmt: skip
    for speed_ms, said in ((0.0, "Makes 0.0 kn"), (3.0, "Makes 5.8 kn, course 000")):
        assert said in zone(ORDERS, base | {"speed_ms": speed_ms}).more
