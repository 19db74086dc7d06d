"""`shipkeeper fleet` over a real broker: a hundred boats from what it keeps."""

from __future__ import annotations

import json
import time
from pathlib import Path

import msgspec
from click.testing import CliRunner
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from shipkeeper.cli.fleet import Fleet, fleet
from shipkeeper.outlets import mqtt_words
from shipkeeper.words.alert import Priority
from shipkeeper.words.timing import utc_text

from ..peers.broker import Broker
from ..peers.messages import record, show


def publish(broker: Broker, boats: int) -> None:
    """Every third in trouble (the higher the number the newer), every tenth offline, every
    twentieth silent."""
    now = time.time()  # not at import: this test may run minutes later
    client = Client(CallbackAPIVersion.VERSION2)
    client.connect("127.0.0.1", broker.port)
    client.loop_start()
    last = None
    for n in range(boats):
        topics = mqtt_words.Topics("shipkeeper", f"boat-{n:03d}")
        troubled = n % 3 == 1
        made = record(n + 1, priority=Priority.ALARM, title=f"DRAG {n}")
        state = msgspec.structs.replace(show(), alerts=(made,) if troubled else ())
        sent = utc_text(now - (600 if n % 20 == 15 else 1))
        body = mqtt_words.watch(state, topics.boat, f"Boat {n}\x1b[2J", sent, 30.0)
        client.publish(topics.of("watch"), mqtt_words.encoded(body), 1, retain=True)
        if troubled:
            alert = mqtt_words.alert(made, topics.boat, utc_text(now - 1000 + n), sent)
            client.publish(topics.alert(made.id), mqtt_words.encoded(alert), 1, retain=True)
        here = b"offline" if n % 10 == 2 else b"online"
        last = client.publish(topics.of("availability"), here, 1, retain=True)
    assert last is not None
    last.wait_for_publish(20)
    client.disconnect()
    client.loop_stop()


def test_a_hundred_boats_newest_trouble_first(tmp_path: Path) -> None:
    """Feature 102 of the checklist: a hundred boats, one page, within ten seconds."""
    folder = tmp_path / "broker"
    folder.mkdir()
    with Broker(folder) as broker:
        publish(broker, 100)
        began = time.monotonic()
        said = CliRunner().invoke(fleet, [broker.address, "--json"])
        took_s = time.monotonic() - began
        text = CliRunner().invoke(fleet, [broker.address]).output
    assert said.exit_code == 1
    assert took_s < 10.0
    rows = json.loads(said.output)["boats"]
    assert len(rows) == 100
    troubled = [row for row in rows if row["trouble"]]
    assert rows[: len(troubled)] == troubled
    times = [row["since_s"] for row in troubled]
    assert times == sorted(times, reverse=True)
    offline = {n for n in range(100) if n % 10 == 2}
    silent = {n for n in range(100) if n % 20 == 15}
    states = {int(row["boat"][-3:]): row["state"] for row in rows}
    assert {n for n, s in states.items() if s == "OFFLINE"} == offline
    assert {n for n, s in states.items() if s == "NO SIGN OF LIFE"} == silent
    dragging = {n for n in range(100) if n % 3 == 1} - offline - silent
    assert {n for n, s in states.items() if s == "trouble"} == dragging
    assert "100 boats" in text
    assert "\x1b" not in text
    assert len(text.splitlines()) == 102


def test_no_broker_is_told() -> None:
    said = CliRunner().invoke(fleet, ["127.0.0.1:1"])
    assert said.exit_code == 3


def test_garbage_on_the_broker_makes_no_boat_well() -> None:
    known = Fleet("shipkeeper")
    for topic, payload in (
        ("other/x/watch", b"{}"),
        ("shipkeeper/a/watch", b"\xff{"),
        ("shipkeeper/a/watch", b"[]"),
        ("shipkeeper/a/alert/b/c", b"{}"),
        ("shipkeeper/a/availability", b"online"),
    ):
        known.take(topic, payload)
    (row,) = known.rows(time.time())
    assert row["state"] == "NO SIGN OF LIFE"
