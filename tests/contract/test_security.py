"""What comes from outside is believed by nobody: certificates and names, outlet by outlet.

The whole daemon, with its secrets and its ports, is in tests/live/test_security.py.
"""

from __future__ import annotations

import json
import logging
import queue
import ssl
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.peers import Phone
from tests.peers.broker import certificate
from tests.peers.messages import message, record, show

from shipkeeper.outlets import alf, mqtt_words, rfc5424, signalk_words
from shipkeeper.outlets.heartbeat import Heartbeat, HeartbeatSender
from shipkeeper.outlets.push import Push, PushSender
from shipkeeper.outlets.terminal import DrawnVoice
from shipkeeper.rehearse.report.svg import esc as in_html
from shipkeeper.words.alert import Subject
from shipkeeper.words.wires import DeliveryFailed

from ..peers.messages import wanted

SECRET = "kettle-tambourine"
# What a name may hold: AIS has 64 signs (ITU-R M.1371 table 47), names that come by JSON or by
# radar sentences have all. Terminal escapes (ECMA-48), HTML, structured data (RFC 5424 6.3.3),
# topic levels and wildcards (MQTT 4.7), paths, sentence signs (IEC 61162-1), text turned about.
HOSTILE = (
    '\x1b[2J\x1b]0;x\x07\x9b31m<script>alert("x")</script>]\\"/../#+$*,!^~\r\n\u202eEVIL\u2066'
)
UNSEEN = "\x1b\x07\x9b\r\u202e\u2066"


@pytest.fixture
def certified(tmp_path: Path) -> tuple[Path, ssl.SSLContext]:
    """(a certificate of our own for 127.0.0.1, a server's context with it)."""
    pem, key = certificate(tmp_path)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(pem, key)
    return pem, context


# -- certificates (syslog: tests/unit/outlets; MQTT and Signal K: tests/integration) ---------------


def test_a_push_service_that_nobody_vouches_for_gets_nothing(
    certified: tuple[Path, ssl.SSLContext], caplog: pytest.LogCaptureFixture
) -> None:
    """RFC 9110 4.3.4: a certificate that cannot be verified ends the connection. Neither the
    message nor the address's secret is sent, and neither is in words or log."""
    caplog.set_level(logging.INFO)
    with Phone(tls=certified[1]) as phone:
        url = phone.url(SECRET).replace("://", f"://boat:{SECRET}@")
        push = PushSender(Push(urls="/urls"), lambda _: url, 5.0)
        with pytest.raises(DeliveryFailed, match="could not be reached") as failed:
            push.deliver(message())
        assert phone.asked == [] and phone.got.empty()
        assert SECRET not in str(failed.value)
        assert SECRET not in str([r.getMessage() for r in caplog.records])


@pytest.mark.parametrize("vouched", [False, True])
def test_a_sign_of_life_goes_to_none_but_the_watcher_who_is_vouched_for(
    certified: tuple[Path, ssl.SSLContext], vouched: bool
) -> None:
    with Phone(tls=certified[1]) as phone:
        url = f"https://127.0.0.1:{phone.port}/{SECRET}"
        orders = Heartbeat(url="url", key="key", every_s=0.2, ca=str(certified[0]) * vouched)
        texts = {"url": url, "key": SECRET * 3}
        for sender in _heartbeat(orders, texts):
            if vouched:
                assert phone.next(10.0)["path"] == f"/{SECRET}"
                return
            _until_refused(sender)
            assert phone.asked == []


def test_a_certificate_for_another_name_is_refused(
    certified: tuple[Path, ssl.SSLContext],
) -> None:
    """RFC 6125 6: whom it names counts too. It is for 127.0.0.1, we asked for localhost."""
    with Phone(tls=certified[1]) as phone:
        url = f"https://localhost:{phone.port}/"
        orders = Heartbeat(url="url", every_s=0.2, ca=str(certified[0]))
        for sender in _heartbeat(orders, {"url": url}):
            _until_refused(sender)
            assert phone.asked == []


def _heartbeat(orders: Heartbeat, texts: dict[str, str]) -> Iterator[HeartbeatSender]:
    sender = HeartbeatSender(orders, texts.__getitem__, "Curlew", list)
    sender._link._patience_s = 0.0
    try:
        sender.show(wanted("silence"), show())
        yield sender
    finally:
        sender.close()


def _until_refused(sender: HeartbeatSender) -> None:
    edge_s = time.monotonic() + 10.0
    while sender.link() != (False, "the outside watcher: its certificate is not trusted"):
        sender.show(wanted("silence"), show())
        assert time.monotonic() < edge_s, sender.link()
        time.sleep(0.05)


# -- names from the air ---------------------------------------------------------------------------


def test_push_and_html_push(capfd: pytest.CaptureFixture[str]) -> None:
    """As plain text no escapes; where the service takes HTML nothing is markup."""
    with Phone() as phone:
        urls = f"{phone.url()}\n{phone.url('html')}?format=html"
        push = PushSender(Push(urls="/urls"), lambda _: urls, 10.0)
        push.deliver(message(title=HOSTILE, line=HOSTILE, text=HOSTILE, subject=HOSTILE))
        for got in (phone.next(), phone.next()):
            said = got["title"] + got["message"]
            assert not any(c in said for c in UNSEEN)
            if "html" in got["path"]:
                assert "<script" not in got["message"] and "&lt;script" in got["message"]
        with pytest.raises(queue.Empty):
            phone.next(0.1)


def test_terminal(capfd: pytest.CaptureFixture[str]) -> None:
    DrawnVoice(bell=False).pattern("alarm", HOSTILE)
    printed = capfd.readouterr().out
    assert printed.count("\n") == 1 and not any(c in printed for c in UNSEEN)


def test_syslog() -> None:
    """One line, and its structured data ends where it ends: the only bracket, quote or backslash
    of a value is an escaped one."""
    said = rfc5424.line(
        message(subject=HOSTILE, rule=HOSTILE, title=HOSTILE, text=HOSTILE),
        facility=3, host=HOSTILE, pid=1, most_bytes=8192,
    ).decode()  # fmt: skip
    assert not any(c in said for c in UNSEEN + "\n")
    data = said[said.index("[alert@") :]
    inside, ended, quoted = "", 0, False
    at = 0
    while not ended:
        if data[at] == "\\" and quoted:
            at += 1
        elif data[at] == '"':
            quoted = not quoted
        elif data[at] == "]" and not quoted:
            ended = at
        at += 1
    inside = data[:ended]
    assert 'msg="' in inside and data[ended : ended + 2] == "] "


def test_mqtt_topic_and_body() -> None:
    """No level more, no wildcard, nothing hidden; and the body is JSON without escapes."""
    topic = mqtt_words.Topics("shipkeeper", "curlew").alert(HOSTILE)
    assert topic.count("/") == 3
    assert not any(c in topic for c in UNSEEN + "#+$<> \n\x00")
    alert = record(subject=Subject("x", "ais", HOSTILE), title=HOSTILE, text=HOSTILE, rule=HOSTILE)
    for body in (
        mqtt_words.alert(alert, "curlew", "", ""),
        mqtt_words.event(message(subject=HOSTILE, title=HOSTILE, text=HOSTILE), "curlew", "", 0.0),
    ):
        said = json.loads(mqtt_words.encoded(body))
        words = "".join(str(said[key]) for key in ("subject", "title", "text", "rule"))
        assert not any(c in words for c in UNSEEN)


def test_signal_k() -> None:
    alert = record(id=f"zone:{HOSTILE}", text=HOSTILE, title=HOSTILE)
    path = signalk_words.path_of(alert)
    assert path.count(".") == 3 and path.isascii() and path.isprintable() and "/" not in path
    assert not any(c in signalk_words.value_of(alert, False)["message"] for c in UNSEEN)


def test_alf() -> None:
    """Two sentences, each of printable ASCII and no longer than 82 signs, whose reserved signs are
    all in their places."""
    told = alf.told(record(title=HOSTILE, text=HOSTILE), "021345.00")
    assert told is not None
    for sentence in (*alf.alf(told, "II", "", 1), alf.alr(told, "II")):
        body = sentence.rstrip("\r\n")
        assert len(sentence) <= 82 and body.isascii() and body.isprintable()
        assert (body.count("$"), body.count("*"), body.count("!")) == (1, 1, 0)
        assert body.count(",") in (13, 5) and "\\" not in body and "~" not in body


def test_report() -> None:
    assert "<" not in in_html(HOSTILE) and not any(c in in_html(HOSTILE) for c in UNSEEN)
