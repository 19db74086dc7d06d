"""The real daemon as part of the boat's systems: a drag, answered over MQTT and over NMEA 0183.

Real broker, real sockets, the daemon as a process.
"""

from __future__ import annotations

import json
import socket
from pathlib import Path

from demo import night

from shipkeeper.words.sentence import body_of, sentence
from shipkeeper.words.signed import SignedCommand, sign

from ..peers.broker import Broker, Subscriber, free_port
from .boat import FEED_CLOCK, ORDERS, Boat, Fixes

SECRET = "a-secret-of-forty-characters-for-a-test-1"
EXTRA = """
[[outlet]]
name = "broker"
mqtt = {{ address = "BROKER", boat = "marren", command_secrets = "KEYS" }}

[[outlet]]
name = "bridge"
nmea = {{ listen = "127.0.0.1:PORT", commands = true }}
"""


def test_an_alarm_is_seen_and_answered_over_mqtt_and_nmea(tmp_path: Path) -> None:
    """The drag alarm stands on the broker and as ALF; an ACN for it is obeyed as far as a blind
    wire may (category A: silenced only, told by ARC); a signed command is taken once, and the
    same one sent again is refused as replayed."""
    folder = tmp_path / "broker"
    folder.mkdir()
    port, keys = free_port(), tmp_path / "keys"
    keys.write_text(f"ann aboard {SECRET}\n")
    keys.chmod(0o600)
    with Broker(folder) as broker:
        extra = EXTRA.replace("BROKER", broker.address).replace("PORT", str(port))
        orders = ORDERS + extra.replace("KEYS", str(keys))
        with Boat(tmp_path, orders) as boat, boat.watch(*FEED_CLOCK) as daemon:
            boat.server.wait()
            with Fixes(boat, start_s=night.START, beat_s=0.1) as fixes, Subscriber(broker) as shore:
                boat.until(lambda: boat.order("anchor", "here").returncode < 2)
                fixes.north_m = 120.0
                daemon.says("DRAG")
                drag = "shipkeeper/marren/alert/drag"
                shore.until(lambda s: drag in s.kept, 20)
                state = json.loads(shore.kept[drag])
                assert state["priority"] == "alarm"
                shore.until(lambda s: any(t.endswith("/event") for t, _, _ in s.said))
                with socket.create_connection(("127.0.0.1", port), timeout=10) as wire:
                    lines = wire.makefile("r", newline="")
                    alf = _until(lines, "ALF", "10010")
                    assert alf[6:8] == ["A", "V"]
                    command = f"IIACN,,,10010,{alf[10]},A,C"
                    wire.sendall((sentence(command) + "\r\n").encode())
                    assert _until(lines, "ARC", "10010")[5] == "A"
                    lines.close()
                shore.until(lambda s: b"active-silenced" in s.kept.get(drag, b""), 20)
                args = {"id": "drag", "occurrence": state["occurrence"]}
                sent = fixes.utc_s
                order = sign(SignedCommand("marren", "ann", 1, sent, "silence", args),
                             SECRET.encode())  # fmt: skip
                replies = []
                for _ in range(2):
                    before = len(shore.said)
                    shore.client.publish("shipkeeper/marren/command", order, qos=1)
                    shore.until(
                        lambda s, n=before: any(t.endswith("/reply") for t, _, _ in s.said[n:]), 15
                    )
                    replies.append(json.loads(shore.kept["shipkeeper/marren/reply"]))
                assert "replayed" not in replies[0]["text"]
                assert replies[1]["code"] == 2
                assert "replayed" in replies[1]["text"]


def _until(lines: object, kind: str, identifier: str) -> list[str]:
    for line in lines:  # type: ignore[attr-defined]  # a text stream
        body = body_of(line)
        if body is not None and body[2:5] == kind and identifier in body.split(","):
            return body.split(",")
    raise AssertionError("the wire ended")
