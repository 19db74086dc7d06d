"""The short form of feed_lines.py, for every run of the tests."""

import pytest
from tests.fuzz.feed_lines import run


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_every_sound_sentence_is_found_between_garbage(seed: int) -> None:
    """Nothing raises, memory is bounded, no sound sentence is missed."""
    figures = run(5_000, seed)
    assert figures.missed == 0
    assert figures.sound > 2_000
    assert figures.peak_kb < 4_096
