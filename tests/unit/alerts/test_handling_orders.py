"""[handling]: every time can be set, none beyond practice, and all are told by --explain."""

from __future__ import annotations

import msgspec
import pytest
from tests.unit.alerts.bench import Bench, holds

from shipkeeper.alerts.commands import SEEING
from shipkeeper.alerts.timings import Timings, timings_of
from shipkeeper.app.kinds import KINDS
from shipkeeper.engine import Engine
from shipkeeper.orders import explain, read
from shipkeeper.words.handling import Handling

BASE = """
[vessel]
name = "Curlew"
length = "11 m"
beam = "3 m"
[drag]
radius = "45 m"
"""


def test_the_defaults_are_those_of_the_alerts() -> None:
    """Two places, one truth."""
    assert timings_of(Handling()) == Timings()
    assert frozenset(Handling().seeing) == SEEING


def test_what_is_ordered_reaches_the_board() -> None:
    text = BASE + '[handling]\nescalate = "2 min"\nsilence = "10 s"\nseeing = ["button"]\n'
    orders, problems, _ = read(text, "orders.toml", KINDS)
    assert orders is not None, problems
    board = Engine(orders, 1_781_234_000.0).board
    assert (board.desk.timings.escalate_s, board.desk.timings.silence_s) == (120.0, 10.0)
    assert board._clerk.seeing == {"button"}


@pytest.mark.parametrize(
    ("line", "key"),
    [
        ('silence = "31 s"', "silence"),  # IMO MSC.302(87) 7.3.5: at most 30 s
        ('silence = "0 s"', "silence"),
        ('escalate = "301 s"', "escalate"),  # IEC 62923-1, from memory: at most 5 min
        ('call_again = "1 h"', "call_again"),
        ('shelf_at_most = "13 h"', "shelf_at_most"),
        ('shelf_alarm_at_most = "2 h"', "shelf_alarm_at_most"),
        ('stage_2 = "10 s"\nsecond_call = "15 s"', "stage_2"),
        ("escalate = 60", "escalate"),
        ('seeing = ["anyone"]', "seeing"),
    ],
)
def test_beyond_practice_is_refused_by_its_key(line: str, key: str) -> None:
    orders, problems, _ = read(f"{BASE}[handling]\n{line}\n", "orders.toml", KINDS)
    assert orders is None
    assert [p.key.partition("[")[0] for p in problems] == [key]


def test_explain_tells_every_time_also_when_nothing_is_written() -> None:
    orders, _, _ = read(BASE, "orders.toml", KINDS)
    assert orders is not None
    told = "\n".join(explain(orders))
    for key in ("silence", "escalate", "second_call", "stage_2", "stage_3", "call_again", "still"):
        assert f"{key} = " in told, key
    assert 'seeing = ["command line"]  (default)' in told


@pytest.mark.parametrize("escalate_s", [10.0, 60.5, 300.0])
def test_the_ordered_times_are_kept_to_a_tenth(escalate_s: float) -> None:
    timings = timings_of(msgspec.structs.replace(Handling(), escalate_s=escalate_s))
    bench = Bench(timings=timings)
    bench.judge("hatch", holds())
    bench.wait(round(escalate_s - 0.1, 3))
    assert bench.record("hatch").priority.label == "warning"
    bench.wait(0.1)
    assert bench.record("hatch").priority.label == "alarm"
