"""Signs of life: signed, sent only while the watch is kept, waited for ashore over real sockets."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import msgspec
import pytest
from tests.peers.phone import Phone

from shipkeeper.app.ashore import Listener, Waiting, reachable
from shipkeeper.outlets.heartbeat import Heartbeat, HeartbeatSender
from shipkeeper.words.beat import BadBeat, Beat, Replays, key_of, sign, verify
from shipkeeper.words.effects import Show, Wanted

KEY = "a shared key of at least thirty-two characters"
SHOW = Show(at="", watch="anchored", crew="ashore", alerts=(), watching=True)
QUIET = Wanted(pattern="silence")


def beat(counter: int = 1, run: str = "a") -> Beat:
    return Beat(
        boat="Curlew", run=run, counter=counter, sent=1.0, watch="anchored", crew="ashore", alerts=0
    )


def until(condition: object, seconds: float = 10.0) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if condition():  # type: ignore[operator]  # any condition
            return True
        time.sleep(0.02)
    return False


def test_only_what_was_signed_with_the_key_is_believed() -> None:
    payload = sign(beat(), key_of(KEY))
    assert verify(payload, key_of(KEY)) == beat()
    for wrong in (payload.replace(b"Curlew", b"Curlex"), b"", b"{}", b"\xff", b"x" * 9000):
        with pytest.raises(BadBeat):
            verify(wrong, key_of(KEY))
    with pytest.raises(BadBeat):
        verify(payload, key_of("another key of at least thirty-two characters"))
    with pytest.raises(ValueError, match="32 characters"):
        key_of("short")


def test_an_old_sign_of_life_hides_no_dead_boat() -> None:
    replays = Replays()
    for good in (beat(1), beat(2), beat(1, "b"), beat(9, "b")):
        replays.check(good)
    for old in (beat(9, "b"), beat(3, "b"), beat(3, "a")):
        with pytest.raises(BadBeat, match="again"):
            replays.check(old)


def test_silence_is_told_once_then_repeated_then_over() -> None:
    waiting = Waiting("Curlew", 240.0, 600.0, 0.0)
    assert waiting.hear(beat(), 60.0) is None
    assert waiting.judge(299.0, None, None) is None
    told = waiting.judge(300.0, True, False)
    assert told is not None and told.title == "BOAT IS SILENT"
    assert "Last it was anchored, crew ashore" in told.text
    assert waiting.judge(899.0, True, False) is None
    again = waiting.judge(900.0, True, False)
    assert again is not None and again.what == "still silent"
    over = waiting.hear(beat(2), 1000.0)
    assert over is not None and over.what == "heard again"
    assert waiting.hear(beat(3), 1060.0) is None


@pytest.mark.parametrize(
    "net,boat,title",
    [
        (False, None, "LINK HERE DEAD"),
        (False, False, "LINK HERE DEAD"),
        (True, True, "WATCH IS DEAD"),
        (True, False, "BOAT IS SILENT"),
        (None, None, "BOAT IS SILENT"),
    ],
)
def test_boat_link_and_watch_are_told_apart(
    net: bool | None, boat: bool | None, title: str
) -> None:
    told = Waiting("Curlew", 240.0, 600.0, 0.0).judge(240.0, net, boat)
    assert told is not None and told.title == title and len(told.title) <= 16


def test_a_refused_connection_is_an_answer() -> None:
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        assert reachable(f"127.0.0.1:{held.getsockname()[1]}")
    assert not reachable("no address")


class Ashore:
    """A listener and what it heard."""

    def __init__(self) -> None:
        self.heard: list[Beat] = []
        self.listener = Listener(("127.0.0.1", 0), key_of(KEY), self.heard.append)

    def post(self, payload: bytes) -> int:
        url = f"http://127.0.0.1:{self.listener.port}/"
        try:
            with urllib.request.urlopen(url, data=payload, timeout=5) as answer:
                return int(answer.status)
        except urllib.error.HTTPError as error:
            with error:
                return error.code


def test_the_listener_takes_signed_ones_and_nothing_else() -> None:
    ashore = Ashore()
    try:
        payload = sign(beat(), key_of(KEY))
        assert ashore.post(payload) == 204
        assert ashore.post(payload) == 403
        assert ashore.post(b"{}") == 403
        assert ashore.post(b"x" * 5000) == 400
        assert ashore.heard == [beat()]
        assert ashore.listener.refused == 2
    finally:
        ashore.listener.close()


def test_signs_of_life_go_out_only_while_the_watch_moves() -> None:
    ashore = Ashore()
    stuck: list[str] = []
    secrets = {"url": f"http://127.0.0.1:{ashore.listener.port}/alive", "key": KEY}
    sender = HeartbeatSender(
        Heartbeat(url="url", key="key", every_s=0.2), secrets.__getitem__, "Curlew", lambda: stuck
    )
    try:
        time.sleep(0.7)
        assert not ashore.heard  # nothing was shown yet: no engine, no sign of life
        sender.show(QUIET, SHOW)
        assert until(lambda: len(ashore.heard) >= 2)
        assert ashore.heard[0].boat == "Curlew" and ashore.heard[0].watch == "anchored"
        assert [b.counter for b in ashore.heard] == sorted(b.counter for b in ashore.heard)
        stuck.append("the store")
        time.sleep(0.7)
        silent_since = len(ashore.heard)
        for _ in range(5):
            sender.show(QUIET, SHOW)
            time.sleep(0.2)
        assert len(ashore.heard) == silent_since
        stuck.clear()
        sender.show(QUIET, SHOW)
        assert until(lambda: len(ashore.heard) > silent_since)
    finally:
        sender.close()
        ashore.listener.close()


def test_a_boat_whose_alarms_do_not_get_through_says_so() -> None:
    """Signed, it says to whom; the plain address is not fetched, for that means all is well."""
    ashore, phone = Ashore(), Phone()
    unheard: list[str] = ["skipper"]
    texts = {"url": f"http://127.0.0.1:{ashore.listener.port}/", "key": KEY,
             "plain": f"http://127.0.0.1:{phone.port}/"}  # fmt: skip
    senders = [
        HeartbeatSender(orders, texts.__getitem__, "Curlew", list, lambda: unheard)
        for orders in (Heartbeat(url="url", key="key", every_s=0.2), Heartbeat(url="plain"))
    ]
    try:
        for sender in senders:
            sender.show(QUIET, SHOW)
        assert until(lambda: ashore.heard)
        assert ashore.heard[0].unheard == ("skipper",)
        time.sleep(1.2)
        assert phone.asked == []
        unheard.clear()
        seen = len(ashore.heard)
        for sender in senders:
            sender.show(QUIET, SHOW)
        assert until(lambda: len(ashore.heard) > seen and ashore.heard[-1].unheard == ())
        assert until(lambda: phone.asked)
    finally:
        for sender in senders:
            sender.close()
        ashore.listener.close()
        phone.close()


def test_a_boat_that_cannot_call_is_told_repeated_and_over() -> None:
    def mute(counter: int) -> Beat:
        return msgspec.structs.replace(beat(counter), unheard=("skipper\x1b[2J", "mate"))

    waiting = Waiting("Curlew", 240.0, 600.0, 0.0)
    assert waiting.hear(beat(1), 0.0) is None
    told = waiting.hear(mute(2), 60.0)
    assert told is not None and told.title == "BOAT CANNOT CALL" and len(told.title) <= 16
    assert "skipper" in told.text and "mate" in told.text and "\x1b" not in told.text
    assert waiting.hear(mute(3), 120.0) is None
    again = waiting.hear(mute(4), 661.0)
    assert again is not None and again.what == "cannot call"
    over = waiting.hear(beat(5), 720.0)
    assert over is not None and over.what == "calls again"
    assert waiting.hear(beat(6), 780.0) is None


def test_a_dead_man_service_is_fetched_and_a_refusal_is_told_without_the_address() -> None:
    asked: list[str] = []
    code = [200]

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            asked.append(self.path)
            self.send_response(code[0])
            self.end_headers()

        def log_message(self, *_: object) -> None:
            pass

    server = HTTPServer(("127.0.0.1", 0), Handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    url = f"http://127.0.0.1:{server.server_address[1]}/a-secret-path"
    sender = HeartbeatSender(Heartbeat(url="url", every_s=0.2), lambda _: url, "Curlew", list)
    try:
        sender.show(QUIET, SHOW)
        assert until(lambda: asked)
        assert asked[0] == "/a-secret-path"
        assert until(lambda: sender.link() == (True, "the outside watcher is reached"))
        code[0] = 410
        sender._link._patience_s = 0.0
        sender.show(QUIET, SHOW)
        assert until(lambda: (sender.link() or (True,))[0] is False)
        stands = sender.link()
        assert stands is not None and "410" in stands[1] and "secret" not in stands[1]
    finally:
        sender.close()
        server.shutdown()
        server.server_close()
        thread.join(2.0)


@pytest.mark.parametrize("url", ["file:///etc/passwd", "", "ftp://x/"])
def test_only_http_is_called(url: str) -> None:
    with pytest.raises(ValueError, match="http"):
        HeartbeatSender(Heartbeat(url="url"), lambda _: url, "", list)


def test_wait_for_as_a_process_calls_a_phone(tmp_path: Path) -> None:
    """The verb itself: hears a boat, misses it, pushes to a real receiver, hears it again."""
    phone = Phone()
    key, urls = tmp_path / "key", tmp_path / "urls"
    key.write_text(KEY)
    urls.write_text(phone.url())
    for path in (key, urls):
        path.chmod(0o600)
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        port = held.getsockname()[1]
    process = subprocess.Popen(
        [sys.executable, "-m", "shipkeeper.cli.main", "wait-for", "Curlew",
         "--listen", f"127.0.0.1:{port}", "--key", str(key), "--push", str(urls),
         "--late", "2 s", "--repeat", "1 h", "--json"],
        stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdout is not None
    try:
        told = json.loads(process.stdout.readline())
        assert told["what"] == "silent" and told["title"] == "BOAT IS SILENT"
        assert "No sign of life from Curlew" in json.dumps(phone.next(20.0))
        url = f"http://127.0.0.1:{port}/"
        urllib.request.urlopen(url, data=sign(beat(), key_of(KEY)), timeout=5).close()
        assert json.loads(process.stdout.readline())["what"] == "heard again"
    finally:
        process.terminate()
        process.wait(10)
        process.stdout.close()
        phone.close()


def test_told_is_plain_json() -> None:
    told = Waiting("Curlew", 1.0, 1.0, 0.0).judge(2.0, None, None)
    assert msgspec.json.decode(msgspec.json.encode(told))["what"] == "silent"
