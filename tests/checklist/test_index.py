"""Every feature of the checklist that must be there: a test named after its number, or held by a
test of the part that it belongs to, or told openly as one that no test here can hold."""

from __future__ import annotations

import ast
import re
from functools import cache
from pathlib import Path

import pytest

TESTS = Path(__file__).parents[1]
NUMBERED = (TESTS / "checklist", TESTS / "unit" / "alerts")
MUST = (
    1, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 15, 16, 18, 19, 20, 22, 23, 24, 27, 30, 32, 33, 34, 36,
    37, 38, 40, 41, 42, 43, 44, 45, 46, 47, 48, 50, 51, 52, 53, 56, 57, 58, 59, 62, 63, 65, 70, 71,
    72, 74, 75, 76, 78, 79, 81, 83, 84, 85, 86, 87, 91, 92, 93, 96, 99, 100, 101,
)  # fmt: skip

# number -> tests of other parts that hold it
ELSEWHERE: dict[int, tuple[str, ...]] = {
    # a duplicate rather than a miss
    36: (
        "unit/app/test_outbox.py::test_a_delivery_that_hangs_can_be_left_and_its_message_goes_again",
        "live/test_night.py::test_kill_9_loses_no_alert_no_mark_and_no_acknowledgement",
    ),
    # history over pulled plugs
    38: (
        "unit/store/test_store.py::test_kill_at_any_moment_loses_nothing_committed",
        "unit/store/test_store.py::test_a_torn_log_restores_to_some_whole_commit",
    ),
    # the present state for whoever connects late
    40: (
        "unit/outlets/test_nmea.py::test_a_listener_gets_what_stands_and_each_change",
        "integration/test_mqtt.py::test_a_broker_that_restarts_has_everything_again",
    ),
    70: ("outside/test_syslog_rfc5424.py",),
    71: (
        "integration/test_mqtt.py::test_whoever_comes_late_gets_the_present",
        "integration/test_mqtt.py::test_the_last_will_says_offline",
    ),
    72: ("integration/test_signalk.py",),
    78: (
        "live/test_drill.py::test_79_a_drill_times_every_step_and_is_a_drill_everywhere",
        "live/test_drill.py::test_one_outlet_alone",
    ),
    79: ("live/test_drill.py::test_79_a_drill_times_every_step_and_is_a_drill_everywhere",),
    81: (
        "contract/test_heartbeat.py::test_signs_of_life_go_out_only_while_the_watch_moves",
        "contract/test_heartbeat.py::test_wait_for_as_a_process_calls_a_phone",
    ),
    83: (
        "live/test_watch.py::test_what_the_phone_missed_comes_when_it_is_back",
        "unit/app/test_outbox.py::test_what_an_earlier_run_left_counts_as_backlog",
    ),
    84: ("unit/app/test_outbox.py::test_a_backlog_of_any_size_is_at_most_three_pushes",),
    85: ("unit/app/test_outbox.py::test_a_backlog_of_any_size_is_at_most_three_pushes",),
    86: ("live/test_night.py::test_a_live_night_and_its_rehearsal_are_the_same",),
    87: ("unit/rehearse/test_load.py",),
    91: (
        "unit/orders/test_load.py",
        "live/test_watch.py::test_good_orders_are_taken_and_bad_ones_change_nothing",
    ),
    92: ("unit/orders/test_convert.py", "house/test_orders_bounds.py"),
    96: (
        "unit/app/test_systemd.py::test_the_watchdog_is_fed_at_half_its_interval",
        "unit/app/test_systemd.py::test_one_part_without_progress_is_enough_to_stop_it",
    ),
    101: (
        "unit/alerts/test_admitting.py::test_a_replay_is_refused_after_a_restart",
        "integration/test_mqtt.py::test_commands_are_obeyed_only_when_signed",
    ),
}
# number -> why no test in this tree holds it
OPEN: dict[int, str] = {
    41: "from cold boot to watching: timed on a board or the virtual boat computer, not here",
}


@cache
def names(path: Path) -> frozenset[str]:
    tree = ast.parse(path.read_text())
    kinds = (ast.FunctionDef, ast.AsyncFunctionDef)
    return frozenset(n.name for n in ast.walk(tree) if isinstance(n, kinds))


@cache
def numbered() -> frozenset[int]:
    found = set()
    for folder in NUMBERED:
        for path in folder.glob("test_*.py"):
            found |= {int(m[1]) for name in names(path) if (m := re.match(r"test_(\d+)_", name))}
    return frozenset(found)


@pytest.mark.parametrize("number", MUST)
def test_every_must_has_its_test(number: int) -> None:
    """By its number, or in the part that it belongs to; nothing is forgotten."""
    held = (number in numbered()) + (number in ELSEWHERE)
    assert bool(held) != (number in OPEN), f"row {number}: held {held} times"


@pytest.mark.parametrize("number", ELSEWHERE)
def test_what_is_held_elsewhere_is_there(number: int) -> None:
    """A test that was renamed or taken away is missed here."""
    for place in ELSEWHERE[number]:
        path, _, name = place.partition("::")
        found = names(TESTS / path)
        assert name in found if name else any(n.startswith("test_") for n in found), place
