"""`shipkeeper drill` with the real daemon: every step of the way, marked as a drill everywhere."""

from __future__ import annotations

import json
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from demo import night

from .boat import ROOT, SHIPKEEPER, Boat, Daemon, Fixes, drained

MARK = f"{night.ANCHOR.lat},{night.ANCHOR.lon}"


@contextmanager
def anchored(folder: Path) -> Iterator[tuple[Boat, Daemon, Fixes]]:
    """At anchor with a fix a second, by the computer's own clock."""
    with (
        Boat(folder) as boat,
        boat.watch() as daemon,
        Fixes(boat, start_s=time.time(), beat_s=0.5, step_s=0.5) as fixes,
    ):
        boat.server.wait(within_s=60)
        boat.until(lambda: boat.ask("status")["own"]["lat"] is not None)
        boat.order("anchor", "at", MARK)
        time.sleep(1.5)
        drained(boat.phone.got)
        yield boat, daemon, fixes


def drill(boat: Boat, *words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [*SHIPKEEPER, "drill", *words, "--state", str(boat.state)],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, cwd=ROOT,
    )  # fmt: skip


def test_79_a_drill_times_every_step_and_is_a_drill_everywhere(tmp_path: Path) -> None:
    """Row 79: input to sound within 2 s, to the phone within 15 s, silence 2 s after the answer.
    Row 78: one command, a result for each outlet (IMO MSC.252(83) 24.2, second-hand)."""
    with anchored(tmp_path) as (boat, daemon, _):
        run = drill(boat, "--json")
        message = boat.pushed("DRILL")
        assert "nothing is wrong with the boat" in message["message"]
        assert 'drill="yes"' in boat.logged("drill")
        (row,) = [r for r in boat.ask("alerts")["alerts"] if r["id"] == "drill"]
        assert row["drill"] and row["priority"] == "alarm"
        assert boat.order("ack", "drill").returncode == 0
        out, _ = run.communicate(timeout=60)
        report = json.loads(out)
        assert run.returncode == 0 and report["good"], report
        steps = {step["what"]: step for step in report["steps"]}
        assert {"raised", "sound: buzzer", "sent: skipper", "sent: log", "answered"} <= set(steps)
        assert steps["sound: buzzer"]["after_s"] <= 2.0 and "silent: buzzer" in steps
        assert any("[drill]" in line for _, line in daemon.printed), daemon.printed
        boat.until(lambda: "drill" not in {r["id"] for r in boat.ask("alerts")["alerts"]})
        assert "drill passed" in boat.order("log", "--all").stdout
        last = boat.order("drill", "--last")
        assert last.returncode == 0 and "PROVED: the way to you holds" in last.stdout


def test_a_drill_that_nobody_answers_is_not_passed_and_ends_by_itself(tmp_path: Path) -> None:
    with anchored(tmp_path) as (boat, _, _):
        run = drill(boat, "--wait", "6 s")
        out, _ = run.communicate(timeout=60)
        assert run.returncode == 1
        assert "NOT PROVED: answered" in out, out
        boat.until(lambda: boat.ask("alerts")["alerts"] == [])
        assert "drill failed" in boat.order("log", "--all").stdout
        boat.pushed("THE DRILL IS OVER")


def test_what_is_real_goes_first_and_breaks_the_drill_off(tmp_path: Path) -> None:
    with anchored(tmp_path) as (boat, daemon, fixes):
        run = drill(boat)
        boat.pushed("DRILL")
        fixes.north_m = 300.0
        out, _ = run.communicate(timeout=60)
        assert run.returncode == 1 and "broken off: something real was raised" in out, out
        assert any("[alarm]" in line for _, line in daemon.printed)
        assert "DRILL" not in boat.pushed("ANCHOR DRAGS")["title"]
        refused = boat.order("drill")
        assert refused.returncode == 2 and "something real is unanswered: drag" in refused.stderr


def test_one_outlet_alone(tmp_path: Path) -> None:
    with anchored(tmp_path) as (boat, daemon, _):
        assert boat.order("drill", "--outlet", "phone").returncode == 2
        run = drill(boat, "--outlet", "skipper")
        boat.pushed("DRILL")
        threading.Timer(0.1, lambda: boat.order("ack", "drill")).start()
        out, _ = run.communicate(timeout=60)
        assert run.returncode == 0, out
        assert "sent: skipper" in out and "sound:" not in out
        assert not any("[drill]" in line for _, line in daemon.printed)


def test_without_a_watch_there_is_nothing_to_prove(tmp_path: Path) -> None:
    with Boat(tmp_path) as boat, boat.watch():
        boat.until(lambda: boat.order("status").returncode < 3)
        refused = boat.order("drill")
        assert refused.returncode == 2 and "no watch is set" in refused.stderr


@pytest.mark.parametrize("verb", ["drill begins", "drill is over"])
def test_only_the_daemon_itself_can_say_how_a_drill_went(verb: str, tmp_path: Path) -> None:
    with Boat(tmp_path) as boat, boat.watch():
        boat.until(lambda: boat.order("status").returncode < 3)
        from shipkeeper.cli.ask import Place, ask

        said = ask(Place(None, boat.state, None), verb, {"good": True})
        assert said["code"] == 2, said
