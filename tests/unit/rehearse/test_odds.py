"""Odds of the drag rule: intervals as published tables have them, nights as given."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from shipkeeper.cli.main import cli
from shipkeeper.rehearse.odds import (
    Given,
    Outcome,
    interval,
    middle_ranks,
    one_night,
    plan_of,
    run,
    summary,
)

# Exact binomial confidence limits, 95 %: handbook tables (Documenta Geigy; from memory).
TABLE = [
    (0, 10, 0.0, 0.3085), (1, 10, 0.0025, 0.4450), (5, 10, 0.1871, 0.8129),
    (0, 100, 0.0, 0.0362), (1, 100, 0.0003, 0.0545), (10, 100, 0.0490, 0.1762),
    (10, 10, 0.6915, 1.0),
]  # fmt: skip


@pytest.mark.parametrize("hits,of,low,high", TABLE)
def test_interval_of_a_share(hits: int, of: int, low: float, high: float) -> None:
    assert interval(hits, of) == pytest.approx((low, high), abs=2e-4)


# Order statistics that hold the median, at least 95 % sure: n = 6 -> 1st and 6th, 10 -> 2nd and
# 9th, 20 -> 6th and 15th (sign test tables; from memory).
@pytest.mark.parametrize("of,ranks", [(6, (0, 5)), (10, (1, 8)), (20, (5, 14)), (1, (0, 0))])
def test_interval_of_a_median(of: int, ranks: tuple[int, int]) -> None:
    assert middle_ranks(of) == ranks


def test_what_is_given_is_held_fast() -> None:
    plan = plan_of(3, "none", Given(rode_m=40.0, depth_m=7.0, wind_ms=10.0, gnss="poor"))
    assert plan is not None
    assert plan.rode.entered_m == pytest.approx(40.0)
    assert plan.depth_m == 7.0 and plan.gnss.quality == "poor"
    assert sum(k.speed_ms for k in plan.wind) / len(plan.wind) == pytest.approx(10.0)
    assert plan_of(3, "none", Given(rode_m=5.0, depth_m=9.0)) is None


def test_a_small_limit_cries_wolf_and_a_wide_one_is_late() -> None:
    tight = one_night(4, "run", Given(margin_m=0.5))
    wide = one_night(4, "run", Given(margin_m=40.0))
    usual = one_night(4, "run", Given())
    assert tight is not None and wide is not None and usual is not None
    assert tight.false_alarm or (tight.dragged_m or 0) <= (usual.dragged_m or 0)
    assert wide.dragged_m is not None and usual.dragged_m is not None
    assert wide.dragged_m > usual.dragged_m


def test_counts() -> None:
    inf = float("inf")
    outcomes = [Outcome("none", False)] * 8 + [Outcome("none", True)]
    outcomes += [Outcome("run", False, m) for m in (10.0, 12.0, 20.0, inf)]
    told = summary(outcomes, Given(margin_m=9.0))
    assert (told["nights"], told["false_alarms"], told["limit_m"]) == (13, 1, 9.0)
    row = told["drags"]["run"]
    assert (row["nights"], row["median_m"], row["missed"]) == (4, 20.0, 1)
    assert row["median_to_m"] is None


def test_one_core_or_two_give_the_same() -> None:
    given = Given(rode_m=30.0, depth_m=5.0)
    alone = run(given, nights=1, each=0, jobs=1)
    assert run(given, nights=1, each=0, jobs=2) == alone


def test_the_verb() -> None:
    args = ["odds", "--nights", "1", "--each", "0", "--jobs", "1", "--rode", "30 m",
            "--depth", "5 m", "--gnss", "fine"]  # fmt: skip
    shown = CliRunner().invoke(cli, args)
    assert shown.exit_code == 0, shown.output
    assert "False alarms: 0; 95 % sure" in shown.output
    told = json.loads(CliRunner().invoke(cli, [*args, "--json"]).output)
    assert told["nights"] == 1 and told["drags"] == {}
    refused = CliRunner().invoke(cli, [*args, "--rode", "5"])
    assert refused.exit_code == 2 and "5" in refused.output
