"""Every benchmark runs, at its smallest size, and prints its figures. Nothing is timed here."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.bench import (
    bytes_written,
    daemon_load,
    daemon_memory,
    full_load,
    growth,
    hot_path,
    latency,
    pipeline_ratio,
    real_time_factor,
    start,
)
from tests.bench.measuring import quantile, tell


def test_pipeline_ratio() -> None:
    figures = pipeline_ratio.measure(minutes=0.2, rounds=1)
    assert figures["sentences"] > 12 * full_load.AIS_A_SECOND
    assert figures["pipeline_ratio"] > 0.0


def test_real_time_factor() -> None:
    figures = real_time_factor.measure(minutes=0.2, rounds=1)
    assert figures["real_time_factor"] > 0.0
    assert figures["real_time_factor_without_ships"] > 0.0


def test_daemon_load() -> None:
    figures = daemon_load.measure(window_s=0.5, warm_up_s=0.2, ships=20)
    assert figures["full_load_sentences_a_second"] > full_load.AIS_A_SECOND
    assert figures["full_load_percent_of_a_core"] >= 0.0


def test_daemon_memory() -> None:
    figures = daemon_memory.figures(few=5, many=10, settle_s=0.1)
    assert figures["interpreter_alone_mb"] < figures["5_targets_mb"]
    assert figures["10_targets_mb"] <= figures["10_targets_peak_mb"]


def test_latency() -> None:
    figures = latency.measure(runs=1, grid_runs=1, warm_up_s=0.5)
    assert 0.0 < figures["buzzer_p50_ms"] < 10_000
    assert 0.0 < figures["with_grid_syslog_p99_ms"] < 10_000


def test_growth() -> None:
    figures = growth.measure(rounds=1, heard=20, targets=(10, 20, 40), count=(1, 2, 4))
    assert figures["40_targets_1_zones_us_a_sentence"] > 0.0
    assert figures["20_targets_4_zones_ms_a_tick"] > 0.0


def test_start() -> None:
    figures = start.measure(runs=1)
    assert figures["to_the_sound_s"] > 0.0
    assert figures["loaded_too_early"] == ["nothing"]


def test_bytes_written() -> None:
    figures = bytes_written.measure(hours=0.3, visits=10.0)
    assert figures["quiet_day_alerts"] == 0
    assert figures["busy_day_alerts"] > 0
    assert figures["busy_day_recording_text_mb"] > figures["quiet_day_recording_text_mb"]


def test_hot_paths(tmp_path: Path) -> None:
    """What instructions.py counts, without valgrind."""
    full_load.write(tmp_path / "full.nmea", minutes=0.2)
    assert hot_path.play(tmp_path / "full.nmea", "sentence", 50) == 50
    assert hot_path.play(tmp_path / "full.nmea", "tick", 3) == 3


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
