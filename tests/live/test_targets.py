"""Ships about the boat with the real daemon, on real wires: one call for a fleet, the table."""

from __future__ import annotations

import time
from pathlib import Path

from demo import night, sentences

from shipkeeper.words.geo import offset

from .boat import FEED_CLOCK, ORDERS, Boat, Fixes, drained

ZONE = """
[[zone]]
name = "guard zone"
around = "anchor"
ring = {{ to = "0.25 NM" }}
"""
MARK = f"{night.ANCHOR.lat},{night.ANCHOR.lon}"


def regatta(boat: Boat, fixes: Fixes, away_m: float) -> None:
    """Twenty boats at that range all round, in one burst on the wire that brings the fixes."""
    lines = []
    for i in range(20):
        place = offset(night.ANCHOR, 18.0 * i, away_m)
        said = sentences.ais_position(
            299000500 + i, place.lat, place.lon, 3.0, 18.0 * i + 90, class_b=True,
            second=int(fixes.utc_s) % 60,
        )  # fmt: skip
        lines += [sentences.tagged(line, "boat", fixes.utc_s) for line in said]
    boat.server.send("".join(f"{line}\r\n" for line in lines).encode())


def test_a_regatta_is_one_sound_one_push_and_a_list_of_twenty(tmp_path: Path) -> None:
    """From twenty reports on the wire to the phone; `targets`, `measure` and `zone off` as a
    person uses them."""
    orders = ORDERS.replace('[drag]\nradius = "45 m"\nconfirm = "5 s"\n', ZONE)
    with (
        Boat(tmp_path, orders) as boat,
        boat.watch(*FEED_CLOCK) as daemon,
        Fixes(boat, start_s=night.START, beat_s=0.5, step_s=0.5) as fixes,
    ):
        boat.server.wait(within_s=60)
        boat.until(lambda: boat.ask("status")["own"]["lat"] is not None)
        assert "anchored" in boat.order("anchor", "at", MARK).stdout
        time.sleep(1.5)
        regatta(boat, fixes, 300.0)
        message = boat.pushed("GUARD ZONE")
        assert message["title"].startswith("20 ")
        assert all(f"2990005{i:02d}" in message["message"] for i in range(20))
        time.sleep(2.0)
        assert drained(boat.phone.got) == []
        sounded = [line for _, line in daemon.printed if line.startswith("buzzer")]
        assert len([line for line in sounded if "guard zone" in line]) == 1, sounded
        table = boat.order("targets").stdout
        assert "20 targets" in table and "in guard zone" in table
        said = boat.order("measure", "own", "299000500").stdout
        assert "300." in said or "299." in said
        assert len(boat.ask("alerts")["alerts"]) == 20
        assert boat.order("ack", "guard-zone").returncode == 0
        off = boat.order("zone", "off", "guard zone", "--for", "2h", "--why", "prizegiving")
        assert off.returncode == 0
        assert "SWITCHED OFF until" in boat.order("status").stdout
