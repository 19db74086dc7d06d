"""Signal K format, out and in, over real WebSockets; every message held to its JSON schema.

The schema is the specification's own (tests/data/signalk); the server is one of our own.
"""

from __future__ import annotations

import json
import math
import ssl
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.inputs.signalk import Ear, SignalKInput, SignalKWorker
from shipkeeper.link.signalk import SignalK
from shipkeeper.outlets import signalk_words
from shipkeeper.outlets.signalk import SignalKOutlet, SignalKSender
from shipkeeper.words.alert import AlertRecord, Priority, State
from shipkeeper.words.effects import Show
from shipkeeper.words.observations import (
    AisReport,
    AisStatic,
    Depth,
    FixQuality,
    Heading,
    Position,
    PositionInvalid,
    RadarPlace,
    UtcTime,
    Velocity,
    Wind,
)

from ..peers.broker import certificate
from ..peers.delta_server import DeltaServer, now, validator
from ..peers.messages import record, show, wanted
from .test_gpsd import Sink

NOTIFICATION = "/definitions/notification"
DRAG = record(7, id="drag", kind="drag", priority=Priority.ALARM, title="DRAGGING", text="52 m")
DRAG_PATH = "notifications.navigation.anchor.shipkeeper-drag"


def shown(*alerts: AlertRecord, **changes: Any) -> Show:
    return msgspec.structs.replace(show(), alerts=alerts, **changes)


@contextmanager
def sending(server: DeltaServer, token: str = "") -> Iterator[SignalKSender]:
    orders = SignalK(address=server.address, token="/token" if token else "")
    sender = SignalKSender(orders, lambda name: token)
    with closing(sender):
        yield sender


@pytest.mark.parametrize("state", list(State))
@pytest.mark.parametrize("priority", list(Priority))
def test_every_state_is_a_notification_by_the_schema(state: State, priority: Priority) -> None:
    """And none of them is null: that is for what is truly normal."""
    made = record(3, state=state, priority=priority, text="52 m")
    value = signalk_words.value_of(made, quiet=False)
    body = {"value": value, "timestamp": now(), "$source": "shipkeeper"}
    validator("groups/notifications.json", NOTIFICATION).validate(body)
    sounds = state is State.UNACKNOWLEDGED and priority > Priority.CAUTION
    assert ("sound" in value["method"]) == sounds
    validator("delta.json").validate(
        signalk_words.delta({signalk_words.path_of(made): value}, now())
    )


@given(st.text(max_size=60))
def test_a_path_has_only_what_the_schema_allows(name: str) -> None:
    """Letters, digits and dashes between the dots, whatever a ship is called."""
    path = signalk_words.path_of(record(3, id=name or "x"))
    assert all(part and part.replace("-", "a").isalnum() and part.isascii()
               for part in path.split("."))  # fmt: skip
    assert signalk_words.is_ours(path)


def test_alerts_come_change_and_go_with_null(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the token; null only when it is over. What cannot be judged is not called normal."""
    with DeltaServer(token="lantern") as server, sending(server, "lantern") as sender:
        sender.show(wanted("alarm"), shown(DRAG))
        server.until(lambda: DRAG_PATH in server.kept)
        assert server.kept[DRAG_PATH] == {
            "method": ["visual", "sound"], "state": "alarm", "message": "52 m",
        }  # fmt: skip
        quiet = msgspec.structs.replace(DRAG, state=State.ACKNOWLEDGED)
        sender.show(wanted("silence"), shown(quiet))
        server.until(lambda: server.kept[DRAG_PATH]["method"] == ["visual"])
        unknown = msgspec.structs.replace(DRAG, state=State.UNKNOWN)
        sender.show(wanted("silence"), shown(unknown))
        time.sleep(0.6)
        assert DRAG_PATH in server.kept
        sender.show(wanted("silence"), shown())
        server.until(lambda: DRAG_PATH not in server.kept)
        assert (sender.link() or ())[:1] == (True,)


def test_a_wrong_token_is_told_and_nothing_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shipkeeper.outlets.link.PATIENCE_S", 0.0)
    with DeltaServer(token="lantern") as server:
        orders = SignalK(address=server.address, token="/token")
        sender = SignalKSender(orders, lambda name: "wrong-lantern")
        sender._link._patience_s = 0.3
        with closing(sender):
            edge = time.monotonic() + 5
            while (stands := sender.link()) is None:
                assert time.monotonic() < edge
                time.sleep(0.05)
            assert stands[0] is False
            assert "refuses the token" in stands[1]
            assert "lantern" not in stands[1]
        assert server.got == []


def test_after_a_restart_of_either_end_the_server_has_what_is_so() -> None:
    """The server lost all: it gets all again. We were away: what is over is taken away; before
    the engine's first word nothing is touched; others' notifications never are."""
    theirs = {"notifications.mob": {"method": ["sound"], "state": "emergency", "message": "x"}}
    with DeltaServer() as server:
        server.others = dict(theirs)
        with sending(server) as sender:
            sender.show(wanted("alarm"), shown(DRAG))
            server.until(lambda: DRAG_PATH in server.kept)
            server.stop()
            server.kept.clear()
            server.start()
            server.until(lambda: DRAG_PATH in server.kept, 15)
        with sending(server) as sender:
            sender.show(wanted("silence"), shown(at=""))
            server.until(lambda: server.clients() >= 1)
            time.sleep(0.5)
            assert DRAG_PATH in server.kept
            sender.show(wanted("silence"), shown())
            server.until(lambda: DRAG_PATH not in server.kept)
        said = [i["path"] for b in server.got for u in b.get("updates", ()) for i in u["values"]]
        assert set(said) == {DRAG_PATH}


def test_no_second_sound_where_the_server_sounds_for_the_same() -> None:
    """Somebody else's alarm stands at the anchor's place: ours is shown there in silence; it
    sounds once theirs is gone, or when ours is graver."""
    place = "notifications.navigation.anchor"
    theirs = {"method": ["sound"], "state": "alarm", "message": "theirs"}
    with DeltaServer() as server:
        server.others = {place: theirs}
        with sending(server) as sender:
            server.until(lambda: server.clients() == 1)
            time.sleep(0.3)
            sender.show(wanted("alarm"), shown(DRAG))
            server.until(lambda: DRAG_PATH in server.kept)
            assert server.kept[DRAG_PATH]["method"] == ["visual"]
            server.say((place, None))
            server.until(lambda: server.kept[DRAG_PATH]["method"] == ["visual", "sound"])
            server.say((place, theirs))
            server.until(lambda: server.kept[DRAG_PATH]["method"] == ["visual"])
            worse = msgspec.structs.replace(DRAG, priority=Priority.EMERGENCY)
            sender.show(wanted("emergency"), shown(worse))
            server.until(lambda: server.kept[DRAG_PATH]["method"] == ["visual", "sound"])


# -- in ------------------------------------------------------------------------------------------


@contextmanager
def reading(server: DeltaServer) -> Iterator[Sink]:
    sink, stop = Sink(), threading.Event()
    worker = SignalKWorker(SignalK(address=server.address, token="/t"), lambda name: "lantern")
    thread = threading.Thread(target=worker.run, args=(sink, stop))
    thread.start()
    try:
        edge = time.monotonic() + 10
        while not server.clients() and time.monotonic() < edge:
            time.sleep(0.01)
        yield sink
    finally:
        stop.set()
        thread.join(5)
        assert not thread.is_alive()


def said(sink: Sink, kind: type[Any], count: int = 1) -> list[Any]:
    """At least so many facts of a kind."""
    edge = time.monotonic() + 5
    while len(found := [f for f in sink.facts if isinstance(f, kind)]) < count:
        assert time.monotonic() < edge, sink.facts
        time.sleep(0.01)
    return found


def test_own_ship_as_it_was_sent() -> None:
    """Position, speed, course, heading, depth, wind, time, dilution: in SI as they went in."""
    with DeltaServer(token="lantern") as server, reading(server) as sink:
        server.say(
            ("navigation.position", {"latitude": 57.10001, "longitude": -5.20002}),
            ("navigation.speedOverGround", 1.03),
            ("navigation.courseOverGroundTrue", math.radians(271.5)),
            ("navigation.headingTrue", math.radians(90.4)),
            ("navigation.gnss.horizontalDilution", 1.3),
            ("navigation.datetime", "2026-06-12T02:13:45Z"),
            ("environment.depth.belowTransducer", 4.37),
            ("environment.depth.surfaceToTransducer", 0.6),
            ("environment.wind.speedApparent", 8.25),
            ("environment.wind.angleApparent", math.radians(-30.0)),
        )
        (position,) = said(sink, Position)
        assert abs(position.lat - 57.10001) < 2e-7
        assert abs(position.lon + 5.20002) < 2e-7
        (velocity,) = said(sink, Velocity)
        assert velocity.speed_ms == pytest.approx(1.03, abs=0.003)
        assert velocity.course_deg == pytest.approx(271.5)
        assert said(sink, Heading)[0].heading_deg == pytest.approx(90.4)
        assert said(sink, Depth)[0] == Depth(4.37, 0.6)
        (wind,) = said(sink, Wind)
        assert (wind.speed_ms, wind.angle_deg, wind.frame) == (8.25, 330.0, "apparent")
        assert said(sink, UtcTime)[0].date == (2026, 6, 12)
        assert {f.hdop for f in said(sink, FixQuality)} == {1.3}
        assert sink.news_ == [(True, "")]
        assert sink.bad == []


def test_ships_and_echoes() -> None:
    """One with an MMSI comes as AIS with her name and size; one without is a radar echo."""
    ship = "vessels.urn:mrn:imo:mmsi:299001234"
    echo = "vessels.urn:mrn:signalk:uuid:00000000-0000-4000-8000-00000000000a"
    with DeltaServer(token="lantern") as server, reading(server) as sink:
        server.say(
            ("", {"name": "BRAMBLE"}),
            ("", {"mmsi": "299001234"}),
            ("design.length", {"overall": 24.0}),
            ("design.beam", 6.0),
            ("sensors.ais.fromBow", 8.0),
            ("sensors.ais.fromCenter", 1.0),
            ("navigation.position", {"latitude": 57.11, "longitude": -5.21}),
            ("navigation.speedOverGround", 5.0 * 1852 / 3600),
            ("navigation.courseOverGroundTrue", math.radians(45)),
            context=ship,
        )
        server.say(("navigation.position", {"latitude": 57.12, "longitude": -5.22}),
                   context=echo, source="radar.TTM")  # fmt: skip
        (report,) = said(sink, AisReport)
        assert (report.mmsi, report.station) == (299001234, "A")
        assert report.lat == pytest.approx(57.11, abs=2e-6)
        assert report.speed_ms == pytest.approx(5.0 * 1852 / 3600, abs=0.03)
        assert (report.course_deg, report.heading_deg) == (pytest.approx(45.0), None)
        (static,) = said(sink, AisStatic)
        assert static.name == "BRAMBLE"
        assert (static.to_bow_m, static.to_stern_m) == (8, 16)
        assert (static.to_port_m, static.to_starboard_m) == (4, 2)
        (place,) = said(sink, RadarPlace)
        assert (place.lat, place.lon) == (pytest.approx(57.12), pytest.approx(-5.22))


def test_what_a_server_remembers_is_no_news() -> None:
    """An hour-old position, sent at the greeting as servers do, and one said twice: neither is
    taken, so a receiver that died an hour ago is not seen alive."""
    place = {"latitude": 57.1, "longitude": -5.2}
    with DeltaServer(token="lantern") as server, reading(server) as sink:
        server.say(("navigation.position", place), stamp=now(3600))
        server.say(("environment.depth.belowTransducer", 4.0))
        said(sink, Depth)
        assert not [f for f in sink.facts if isinstance(f, Position)]
        stamp = now()
        server.say(("navigation.position", place), stamp=stamp)
        said(sink, Position)
        server.say(("navigation.position", place), stamp=stamp)
        server.say(("environment.depth.belowTransducer", 4.1), stamp=now(-1))
        said(sink, Depth, 2)
        assert len(said(sink, Position)) == 1


def test_notifications_are_not_taken_in() -> None:
    """No second copy of an alarm that came from there, nor an echo of our own."""
    alarm = {"method": ["sound"], "state": "alarm", "message": "$GPRMC"}
    with DeltaServer(token="lantern") as server, reading(server) as sink:
        server.say(("notifications.navigation.anchor", alarm), (DRAG_PATH, alarm))
        server.say(("environment.depth.belowTransducer", 4.0))
        said(sink, Depth)
        assert [type(f) for f in sink.facts] == [Depth]


def test_a_position_that_is_none_is_told_as_none() -> None:
    """Null, or a receiver that is a simulator: no fix, never a place of zero."""
    with DeltaServer(token="lantern") as server, reading(server) as sink:
        server.say(("navigation.position", None))
        said(sink, PositionInvalid)
        server.say(("navigation.gnss.methodQuality", "no GPS"), stamp=now(-1))
        server.say(("navigation.position", {"latitude": 1.0, "longitude": 1.0}), stamp=now(-2))
        said(sink, PositionInvalid, 3)
        assert not [f for f in sink.facts if isinstance(f, Position)]


def test_the_server_goes_and_comes_back() -> None:
    with DeltaServer(token="lantern") as server, reading(server) as sink:
        server.stop()
        assert "lantern" not in sink.wait_news(False)
        server.start()
        sink.wait_news(True)
        edge = time.monotonic() + 5
        while not server.clients() and time.monotonic() < edge:
            time.sleep(0.01)
        server.say(("environment.depth.belowTransducer", 4.0))
        said(sink, Depth)


def test_a_wrong_token_in() -> None:
    with DeltaServer(token="other") as server:
        sink, stop = Sink(), threading.Event()
        worker = SignalKWorker(SignalK(address=server.address, token="/t"), lambda n: "lantern")
        thread = threading.Thread(target=worker.run, args=(sink, stop))
        thread.start()
        why = sink.wait_news(False, "refuses the token")
        stop.set()
        thread.join(5)
        assert "lantern" not in why


# -- wss -----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def tls(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, ssl.SSLContext]:
    """A certificate of 127.0.0.1 made by OpenSSL here, and a server's context with it."""
    pem, key = certificate(tmp_path_factory.mktemp("tls"))
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(pem, key)
    return pem, context


def test_over_tls_out_and_in(tls: tuple[Path, ssl.SSLContext]) -> None:
    """wss both ways, by a certificate that the orders name."""
    pem, context = tls
    with DeltaServer(token="lantern", tls=context) as server:
        out = SignalK(address=server.address, token="/t", tls=True, ca=str(pem))
        with closing(SignalKSender(out, lambda name: "lantern")) as sender:
            sender.show(wanted("alarm"), shown(DRAG))
            server.until(lambda: DRAG_PATH in server.kept)
        sink, stop = Sink(), threading.Event()
        orders = SignalK(address=server.address, token="/t", tls=True, ca=str(pem))
        worker = SignalKWorker(orders, lambda name: "lantern")
        thread = threading.Thread(target=worker.run, args=(sink, stop))
        thread.start()
        try:
            sink.wait_news(True)
            server.until(lambda: bool(server.clients()))
            server.say(("environment.depth.belowTransducer", 4.0))
            (depth,) = said(sink, Depth)
            assert depth.below_transducer_m == 4.0
        finally:
            stop.set()
            thread.join(5)


def test_a_certificate_that_nobody_vouches_for_is_refused(
    tls: tuple[Path, ssl.SSLContext],
) -> None:
    """Without `ca` the system's authorities count, who never saw it: the token stays here."""
    with DeltaServer(token="lantern", tls=tls[1]) as server:
        sink, stop = Sink(), threading.Event()
        orders = SignalK(address=server.address, token="/t", tls=True)
        worker = SignalKWorker(orders, lambda name: "lantern")
        thread = threading.Thread(target=worker.run, args=(sink, stop))
        thread.start()
        try:
            why = sink.wait_news(False, "not trusted")
            assert "lantern" not in why
            assert not server.clients() and server.got == []
        finally:
            stop.set()
            thread.join(5)


ANY = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["latitude", "longitude", "overall", "id", "name"]), inner
        )
    ),
    max_leaves=5,
)
PATHS = st.sampled_from(
    ["navigation.position", "navigation.headingMagnetic", "navigation.speedOverGround",
     "navigation.datetime", "environment.depth.belowKeel", "environment.wind.speedTrue", "",
     "design.length", "design.aisShipType", "navigation.gnss.horizontalDilution", "name"],
)  # fmt: skip


@given(st.lists(st.tuples(PATHS, ANY), max_size=8), st.sampled_from(["vessels.self", "vessels.x",
       "vessels.urn:mrn:imo:mmsi:299001234", "aton.y"]), ANY)  # fmt: skip
def test_no_value_raises_or_makes_a_bad_sentence(
    pairs: list[tuple[str, Any]], context: str, junk: Any
) -> None:
    sink = Sink()
    ear = Ear(sink)
    values = [{"path": path, "value": value} for path, value in pairs]
    ear.take(json.dumps({"context": context, "updates": [{"timestamp": now(), "values": values}]}))
    ear.take(json.dumps(junk))
    ear.take(json.dumps({"context": junk, "updates": junk}))
    ear.take(b"\xff{$GPRMC")
    assert all("wrong" not in line and "$" not in line for line in sink.bad)


def test_addresses_that_cannot_be_meant() -> None:
    assert SignalKInput(name="x", signalk=SignalK(address="boat")).problems()
    assert SignalKOutlet(name="x", signalk_alerts=SignalK(address="boat")).problems()
