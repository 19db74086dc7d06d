"""The table of targets: what a navigator reads, in 80 columns, nothing from the air on trust."""

from __future__ import annotations

from typing import Any

import pytest

from shipkeeper.cli.target_lines import targets_text

ROW: dict[str, Any] = {
    "name": "TERN", "identity": "299000001", "source": "ais+radar", "station": "A",
    "range_m": 463.0, "hull_range_m": 410.0, "bearing_deg": 7.2, "relative_deg": 322.2,
    "course_deg": 187.0, "speed_ms": 1.543, "cpa_m": 23.4, "tcpa_s": 130.0, "cpa_doubt_m": 30.0,
    "bow_range_m": -123.0, "bow_time_s": 140.0, "age_s": 3.0, "lost": False, "held_back": False,
    "assumed": "size assumed", "zones": ["inner"], "left_out_by": ["close: speed"],
}  # fmt: skip
NOTHING: dict[str, Any] = {
    key: None for key, value in ROW.items() if isinstance(value, float)
} | {"assumed": "", "zones": [], "left_out_by": [], "name": "299000002"}  # fmt: skip


def test_everything_is_there_and_fits() -> None:
    """The first line across, the second below; a CPA no finer than its doubt."""
    heads, first, *more, end = targets_text([ROW]).splitlines()
    assert heads.split() == [
        "target", "range", "brg", "rel", "cog", "kn", "CPA", "TCPA", "bow", "at", "age",
    ]  # fmt: skip
    assert first.split() == [
        "TERN", "0.25NM", "007", "322", "187", "3.0", "20m", "2:10", "-120m", "2:20", "3s",
    ]  # fmt: skip
    said = " ".join(more)
    for part in ("299000001 ais+radar A", "CPA +/- 30m", "hulls 0.22NM apart (size assumed)",
                 "in inner", "left out by close: speed"):  # fmt: skip
        assert part in said
    assert max(map(len, [heads, first, *more, end])) <= 80


def test_one_line_a_ship_where_there_is_room() -> None:
    assert len(targets_text([ROW, ROW], columns=200).splitlines()) == 4


def test_what_is_unknown_is_a_dash_and_never_zero() -> None:
    first = targets_text([ROW | NOTHING]).splitlines()[1]
    assert first.split() == ["299000002", *["-"] * 10]


@pytest.mark.parametrize(("key", "words"), [("lost", "LOST"), ("held_back", "JUMPED")])
def test_what_is_not_to_be_trusted_is_marked(key: str, words: str) -> None:
    assert words in targets_text([ROW | {key: True}])


def test_a_ship_that_only_radar_sees_is_said_to_be() -> None:
    said = targets_text([ROW | {"source": "radar", "ais_silent_s": 800}], columns=200)
    assert "299000001 radar A; AIS silent for 13 min" in said


def test_names_from_the_air_cannot_reach_the_terminal() -> None:
    """Escapes and bells in a ship's name are shown as '?'."""
    text = targets_text([ROW | {"name": "\x1b]0;owned\x07"}])
    assert "\x1b" not in text and "\x07" not in text and "?]0;owned?" in text


def test_nobody_about() -> None:
    assert targets_text([]) == "no targets"
