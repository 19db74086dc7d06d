"""The demo's night through the real daemon: live equals rehearsal, and kills lose nothing."""

from __future__ import annotations

import json
import random
import subprocess
import time
from pathlib import Path

import pytest
from demo import night
from demo.sentences import tagged
from tests.live.boat import FEED_CLOCK, SHIPKEEPER, Boat, Fixes

PACE = 330.0
SLICE_S = 5.0
SETTLE_S = 20.0
HOURS = 3.3


def orders_of_the_night() -> str:
    """The demo's own, with this test's ports for its marks."""
    text = (Path(night.__file__).parent / "orders.toml").read_text()
    text = text.replace("{", "{{").replace("}", "}}")
    for mark, field in (
        ("<boat>", "127.0.0.1:{port}"),
        ("<ais>", "{ais}"),
        ("<push>", "{secret}"),
        ("<syslog>", "{syslog}"),
    ):
        text = text.replace(mark, field)
    return text


def play(boat: Boat, heard: list[night.Heard]) -> None:
    """Send the night at its pace, the anchor set early on, and a skipper who wakes at times."""
    began, start = time.monotonic(), heard[0].utc_s
    anchored, index, next_ack_s = False, 0, 0.0
    while index < len(heard):
        now = start + (time.monotonic() - began) * PACE
        if not anchored and heard[index].utc_s >= start + SETTLE_S:
            mark = f"{night.ANCHOR.lat:.6f},{night.ANCHOR.lon:.6f}"
            said = boat.order("anchor", "at", mark, "--rode", "40 m", "--depth", "7.2 m")
            assert said.returncode in (0, 1), said.stderr
            anchored, began = True, time.monotonic() - SETTLE_S / PACE
            continue
        edge = min(now, heard[index].utc_s + SLICE_S)
        batch: dict[str, list[str]] = {"boat": [], "ais": []}
        while index < len(heard) and heard[index].utc_s <= edge:
            item = heard[index]
            if not anchored and item.utc_s >= start + SETTLE_S:
                break
            batch[item.wire].append(tagged(item.sentence, item.wire, item.utc_s) + "\r\n")
            index += 1
        boat.server.send("".join(batch["boat"]).encode("ascii"))
        boat.ais.send("".join(batch["ais"]).encode("ascii"))
        if time.monotonic() >= next_ack_s and anchored:
            next_ack_s = time.monotonic() + 5.0
            boat.order("ack", "guard-zone:299000347")
        time.sleep(0.002)


@pytest.mark.timeout(240)
def test_a_live_night_and_its_rehearsal_are_the_same(tmp_path: Path) -> None:
    """The JSON lines of the daemon's journal equal those of rehearsing its own recording,
    with a skipper acknowledging in between; what was so is raised, the neighbour is not; the
    buzzer, the phone and the syslog server all heard."""
    heard = [h for h in night.night() if h.utc_s < night.START + HOURS * 3600]
    text = orders_of_the_night().replace("{ais}", str(tmp_path / "ais-port"))
    with Boat(tmp_path, text) as boat:
        with boat.watch(*FEED_CLOCK) as daemon:
            boat.server.wait(within_s=60)
            play(boat, heard)
            time.sleep(1.0)
            daemon.says("buzzer")
            assert daemon.stop() == 0
        live = boat.journal()
        assert boat.pushed("ref").get("title")
        assert boat.logged("guard-zone").startswith("<")
        recordings = sorted(map(str, (boat.state / "recordings").iterdir()))
        rehearsed = subprocess.run(
            [*SHIPKEEPER, "rehearse", "--json", *recordings],
            capture_output=True, text=True, check=True, timeout=120,
        ).stdout.splitlines()  # fmt: skip
    assert live == rehearsed[:-1]
    assert json.loads(rehearsed[-1])["summary"]["transitions"] == len(live)
    raised = {
        (row["kind"], row["mmsi"])
        for row in map(json.loads, live)
        if row["to"] == "active-unacknowledged" and row["reason"] == "condition"
    }
    assert ("zone", 299000347) in raised
    assert ("feed", None) in raised
    assert not any(mmsi == 299000211 for _, mmsi in raised), "the neighbour was there before"


@pytest.mark.timeout(240)
def test_kill_9_loses_no_alert_no_mark_and_no_acknowledgement(tmp_path: Path) -> None:
    """Killed at random moments: after each restart, without any data, what was unanswered
    sounds within 5 s of the start, what was acknowledged does not, watch and mark are there.
    The short form of the campaign in tests/faults."""
    rng = random.Random(11)
    with Boat(tmp_path) as boat:
        with Fixes(boat, start_s=night.START) as fixes, boat.watch(*FEED_CLOCK) as daemon:
            boat.server.wait(within_s=60)
            boat.until(lambda: boat.ask("status")["own"]["lat"] is not None)
            mark = f"{night.ANCHOR.lat},{night.ANCHOR.lon}"
            assert "anchored" in boat.order("anchor", "at", mark).stdout
            fixes.north_m = 200.0
            daemon.says("DRAGS")
            time.sleep(rng.uniform(0.0, 0.3))
            daemon.kill()
        acknowledged = False
        for round_ in range(5):
            with boat.watch(*FEED_CLOCK) as daemon:
                if not acknowledged:
                    sounded_s = daemon.says("DRAGS") - daemon.began_s
                    assert sounded_s < 5.0, f"sounded after {sounded_s:.1f} s"
                row = boat.until(lambda: boat.standing("drag"))
                assert row["state"].endswith("acknowledged")
                assert (row["state"] == "active-acknowledged") is acknowledged
                status = boat.ask("status")
                assert status["watch"] == "anchored"
                assert abs(status["mark"]["lat"] - night.ANCHOR.lat) < 1e-6
                if round_ == 2:
                    assert boat.order("ack", "drag").returncode == 0
                    acknowledged = True
                time.sleep(rng.uniform(0.0, 0.3))
                daemon.kill()
                printed = [line for _, line in daemon.printed]
                assert not acknowledged or round_ == 2 or not any("DRAGS" in p for p in printed)
