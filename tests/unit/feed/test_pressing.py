"""feed/pressing.py: nothing that the engine judges at once is left to wait by the glance."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.property.test_feed import NEVER, WHOLE
from tests.unit.feed.air import ARMOUR, message, vdm
from tests.unit.feed.said import heard, sentence

from shipkeeper.engine import is_urgent
from shipkeeper.feed.framing import Framer
from shipkeeper.feed.pressing import is_pressing

DATA = Path(__file__).parents[2] / "data"
BEACONS = (970_000_000, 970_999_999, 972_123_456, 974_000_001, 974_999_999)  # ITU-R M.585-9


def urgent(line: str) -> bool:
    return any(is_urgent(fact) for fact in heard(line).observations)


@pytest.mark.parametrize("mmsi", BEACONS)
@pytest.mark.parametrize("kind", [1, 2, 3, 9, 18, 19, 27])
def test_a_call_for_help_is_pressing(kind: int, mmsi: int) -> None:
    """A report of a beacon in every type that has a place, packed by pyais."""
    lines = message(type=kind, mmsi=mmsi, lat=57.1, lon=-5.2)
    assert all(is_pressing(line) for line in lines)
    assert urgent(lines[0]) or len(lines) > 1


def test_a_safety_text_is_pressing_and_every_part_of_a_long_one() -> None:
    assert all(is_pressing(line) for line in message(type=14, mmsi=299001234, text="SART TEST"))
    assert all(is_pressing(line) for line in message(type=14, mmsi=299001234, text="A" * 150))


@pytest.mark.parametrize("mmsi", [201_000_000, 299_001_234, 775_999_999, 2_990_001, 111_299_001])
@pytest.mark.parametrize("kind", [1, 3, 4, 18, 27])
def test_a_ship_can_wait(kind: int, mmsi: int) -> None:
    (line,) = message(type=kind, mmsi=mmsi, lat=57.1, lon=-5.2)
    assert not is_pressing(line)
    assert not is_pressing("\\s:ais,c:1781234567*4A\\" + line)


@pytest.mark.parametrize("kind", sorted(WHOLE))
def test_of_the_boats_own_sentences_fixes_press(kind: str) -> None:
    """And whatever any field of any sentence says: what is judged at once was pressing."""
    line = sentence(f"GP{kind},{WHOLE[kind][0]}")
    assert is_pressing(line) == (kind in ("RMC", "GGA", "GLL", "GNS"))
    fields = WHOLE[kind][0].split(",")
    for place in range(len(fields)):
        for bad in ["", "V", "0", "N", *NEVER]:
            line = sentence(f"GP{kind}," + ",".join([*fields[:place], bad, *fields[place + 1 :]]))
            assert is_pressing(line) or not urgent(line)


def test_no_sentence_can_wait() -> None:
    for text in ("", "$", "!", "junk", "$$$", "\\s:a*00\\", "!AIVDM", "$GP"):
        assert is_pressing(text) or not urgent(text)
    assert not is_pressing("junk")


@given(st.text(ARMOUR, min_size=1, max_size=60), st.integers(0, 5))
def test_any_payload_that_is_judged_at_once_was_pressing(payload: str, fill: int) -> None:
    assert is_pressing(vdm(payload, fill)) or not urgent(vdm(payload, fill))


def test_payloads_of_beacons_by_the_thousand() -> None:
    """Random bits behind a type and a beacon's number, which hypothesis would hardly find."""
    rng = random.Random(1)
    found = 0
    for _ in range(2000):
        kind, mmsi = rng.choice((1, 2, 3, 9, 18)), rng.choice((970, 972, 974)) * 1_000_000
        mmsi += rng.randrange(1_000_000)
        bits = f"{kind:06b}{rng.randrange(4):02b}{mmsi:030b}{rng.getrandbits(130):0130b}"
        line = vdm("".join(ARMOUR[int(bits[i : i + 6], 2)] for i in range(0, 168, 6)))
        found += urgent(line)
        assert is_pressing(line)
    assert found == 2000


def test_what_real_receivers_sent() -> None:
    """Every line of the recordings in tests/data, however it is damaged."""
    lines = 0
    for path in sorted(DATA.rglob("*")):
        if path.suffix in (".chk", ".log", ".txt", ".nm4", ".aivdm"):
            for line in Framer().feed(path.read_bytes()):
                lines += 1
                assert is_pressing(line) or not urgent(line)
    assert lines > 500
