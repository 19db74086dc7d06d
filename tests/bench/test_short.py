"""Every benchmark runs, at its smallest size, and prints its figures. Nothing is timed here."""

from __future__ import annotations

import json

import pytest
from tests.bench import full_load, pipeline_ratio, real_time_factor
from tests.bench.measuring import quantile, tell


def test_pipeline_ratio() -> None:
    figures = pipeline_ratio.measure(minutes=0.2, rounds=1)
    assert figures["sentences"] > 12 * full_load.AIS_A_SECOND
    assert figures["pipeline_ratio"] > 0.0


def test_real_time_factor() -> None:
    figures = real_time_factor.measure(minutes=0.2, rounds=1)
    assert figures["real_time_factor"] > 0.0
    assert figures["real_time_factor_without_ships"] > 0.0


def test_the_load_is_what_it_is_said_to_be() -> None:
    """75 AIS messages, ten fixes and headings a second; the same from one run to the next."""
    said = list(full_load.log(minutes=0.1))
    assert said == list(full_load.log(minutes=0.1))
    of_second = [line for at_s, _, line in said if int(at_s - said[0][0]) == 3]
    messages = [line for line in of_second if line[0] == "!" and line[9] == "1"]
    kinds = [line[3:6] for line in of_second]
    assert len(messages) == 75
    assert (kinds.count("RMC"), kinds.count("GGA"), kinds.count("HDT")) == (10, 10, 10)
    assert kinds.count("TTM") == 8


def test_quantile() -> None:
    values = [float(n) for n in range(1, 101)]
    assert (quantile(values, 0.5), quantile(values, 0.99), quantile([7.0], 0.5)) == (50, 99, 7)


def test_figures_are_told_in_lines_or_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    tell({"ratio": 1.25, "parts": [1, 2.5]}, as_json=True)
    assert json.loads(capsys.readouterr().out) == {"ratio": 1.25, "parts": [1, 2.5]}
    tell({"ratio_of_it": 1.25}, as_json=False)
    assert capsys.readouterr().out.split() == ["ratio", "of", "it", "1.25"]
