"""No absent, empty, invalid or out-of-range field becomes a number in the picture.

test_feed.py has it for the facts; here lines go in at the engine's door and what it then holds
and shows of own ship, the measurements and the targets is looked at, for every sentence type:
1. after sentences of empty fields nothing is known at all;
2. when a sound sentence is followed by one with fields emptied or spoiled, the picture holds
   what was true before, or nothing: no figure that nobody said;
3. whatever comes in, every figure in the picture is finite and within its physical range.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.property.test_feed import FIELD, NEVER, RANGES, WHOLE
from tests.unit.feed.air import armoured, vdm
from tests.unit.feed.said import sentence

from shipkeeper.answers import own_ship
from shipkeeper.engine import Engine
from shipkeeper.feed.ais import TYPES
from shipkeeper.picture.channel import Channel
from shipkeeper.rules.table import target_table
from shipkeeper.words.events import Line, Tick
from shipkeeper.words.orders import Orders, Vessel
from shipkeeper.words.units import MS_PER_KN

START_S = 1_785_000_000.0
VESSEL = Vessel(name="Marren", length_m=11.4, beam_m=3.6, transducer_depth_m=0.6, draught_m=1.8)
BOUNDS = RANGES | {
    "depth_below_transducer_m": RANGES["below_transducer_m"],
    "wind_ms": (0.0, 530.0),
    "wind_from_deg": RANGES["angle_deg"],
    "last_lat": RANGES["lat"],
    "last_lon": RANGES["lon"],
    "position_age_s": (0.0, 60.0),
    "range_m": (0.0, 20_040_000.0),  # half round the earth
}


def looked_at(*lines: str) -> Engine:
    """An engine that heard these, one a second."""
    engine = Engine(Orders(vessel=VESSEL, rules=()), START_S)
    for number, text in enumerate(lines, start=1):
        engine.handle(Line(START_S + number, "wire", text))
        engine.handle(Tick(START_S + number))
    return engine


def held(engine: Engine) -> Iterator[tuple[str, Any]]:
    """Every figure that the picture holds or shows, with its name."""
    now_s = engine._now_s
    own = engine.picture.own
    channels = [c for c in vars(own).values() if isinstance(c, Channel)]
    for channel in (*channels, *engine.picture.measurements.values()):
        for reading in channel.fresh(now_s):
            if isinstance(reading.value, float):
                name = "variation_deg" if channel is own.variation else "heading_deg"
                yield name, reading.value
            else:
                yield from (
                    msgspec.structs.asdict(reading.value).items()
                    if isinstance(reading.value, msgspec.Struct)
                    else reading.value._asdict().items()
                )
    yield from own_ship(engine, now_s).items()
    for offset_m in own.sounder_offset_m.values():
        yield "offset_m", offset_m
    for row in target_table(engine.picture, [], now_s):
        yield from ((f"target {name}", value) for name, value in row.items())


def figures(engine: Engine) -> list[tuple[str, float]]:
    return [
        (name, value)
        for name, value in held(engine)
        if isinstance(value, int | float) and not isinstance(value, bool)
    ]


def assert_sane(engine: Engine) -> None:
    for name, value in figures(engine):
        assert math.isfinite(value), (name, value)
        bounds = BOUNDS.get(name.removeprefix("target "))
        if bounds is not None:
            assert bounds[0] <= value <= bounds[1], (name, value)


@pytest.mark.parametrize("kind", WHOLE)
def test_of_empty_fields_nothing_is_known(kind: str) -> None:
    for commas in range(len(WHOLE[kind][0].split(",")) + 3):
        engine = looked_at(sentence(f"II{kind}" + "," * commas))
        assert [f for f in figures(engine) if f[0] != "position_age_s"] == []
        assert len(engine.picture.targets) == 0


@pytest.mark.parametrize("kind", WHOLE)
@given(data=st.data())
@settings(max_examples=30, deadline=None)
def test_no_figure_that_nobody_said(kind: str, data: st.DataObject) -> None:
    """A sound sentence, then one of the same with fields emptied or made impossible."""
    body, free = WHOLE[kind]
    fields = body.split(",")
    places = [i for i in range(len(fields)) if i + 1 not in free]
    spoiled = list(fields)
    for place in data.draw(st.sets(st.sampled_from(places), min_size=1)):
        spoiled[place] = data.draw(st.sampled_from(["", *NEVER]))
    sound, bad = sentence(f"II{kind},{body}"), sentence(f"II{kind},{','.join(spoiled)}")
    # What the same fields say by themselves when empty is true as well: a magnetic heading
    # where the variation is missing.
    empty = sentence(
        f"II{kind},{','.join(f if f == g else '' for f, g in zip(fields, spoiled, strict=True))}"
    )
    said = figures(looked_at(sound)) + figures(looked_at(empty)) + figures(looked_at(sound, sound))
    for name, value in figures(looked_at(sound, bad)):
        if name.endswith("_s"):
            continue  # an age
        near = [v for n, v in said if n == name and abs(v - value) <= 0.03 * abs(v) + 1e-9]
        assert near, (name, value, bad)


@pytest.mark.parametrize("kind", WHOLE)
@given(st.lists(FIELD, max_size=20), st.lists(FIELD, max_size=20))
@settings(max_examples=30, deadline=None)
def test_every_figure_is_one_that_can_be(kind: str, some: list[str], others: list[str]) -> None:
    """Any fields in any order, twice, after a fix and a heading that radar echoes need."""
    fix = sentence(f"GPRMC,{WHOLE['RMC'][0]}")
    head = sentence("IIHDT,45.0,T")
    junk = (sentence(f"II{kind},{','.join(fields)}") for fields in (some, others))
    assert_sane(looked_at(fix, head, *junk))


@pytest.mark.parametrize("kind", sorted(TYPES))
@given(data=st.data())
@settings(max_examples=30, deadline=None)
def test_any_bits_of_any_ais_type(kind: int, data: st.DataObject) -> None:
    """Random payloads: what the table of targets shows can be, or is not shown."""
    _, full, fewest, most = TYPES[kind]
    length = data.draw(st.sampled_from([full, fewest, most, min(full, most)]))
    body = "".join(f"{b:08b}" for b in data.draw(st.binary(min_size=130, max_size=130)))
    fix = sentence(f"GPRMC,{WHOLE['RMC'][0]}")
    engine = looked_at(fix, vdm(*armoured((f"{kind:06b}" + body)[:length])))
    assert_sane(engine)
    for row in target_table(engine.picture, [], START_S + 2):
        assert row["speed_ms"] != 102.3 * MS_PER_KN and row["course_deg"] != 360.0
        assert row["heading_deg"] != 511 and row["lat"] != 91.0
