"""A part of the table of cuts: every kind, every state and every cut is in it, not every three.

All of it: python -m tests.scenes.cuts
"""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from tests.scenes.cuts import CUTS, KINDS, STAGES, Kind, NotSo, Stage, cases, play

PART = cases()[::41]


def test_the_part_has_something_of_everything() -> None:
    kinds, stages, cuts = zip(*PART, strict=True)
    assert (set(kinds), set(stages), set(cuts)) == (set(KINDS), set(STAGES), set(CUTS))


@pytest.mark.parametrize(
    "case", PART, ids=lambda case: f"{case[0].name}, {case[1].name}, {case[2]}"
)
def test_nothing_is_lost_cleared_or_doubled(case: tuple[Kind, Stage, str], tmp_path: Path) -> None:
    """And what was cut is told once; see tests/scenes/cuts.py."""
    with contextlib.suppress(NotSo):
        play(*case, tmp_path)
