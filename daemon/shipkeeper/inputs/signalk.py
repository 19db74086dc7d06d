"""Deltas of the Signal K format as an input, over a WebSocket with a token.

They become sentences here (signalk_sentences.py), so a recording of the night is plain
sentences and a rehearsal needs no server. A server first tells all that it remembers, hours
old or not: what is older than its newest stamp by more than `OLD_S` is no news and is left out,
and so is a value that comes again with the same stamp. Notifications are not taken in: an
alarm that the server raised is announced by whoever raised it, never a second time by us.
"""

from __future__ import annotations

import json
import threading
import time
from typing import Any, ClassVar

from ..link.signalk import SignalK, connect, why_not
from ..words import delta
from ..words.address import bad_address
from ..words.orders import InputTable
from ..words.wires import InputSink, InputWorker, SecretReader
from .backoff import Backoff
from .signalk_sentences import Sentences

LOOK_S = 0.5
SILENT_S = 60.0
OLD_S = 15.0
OLD_AIS_S = 180.0  # at anchor a ship reports each three minutes; her place is dead reckoned
PATHS = (
    "navigation.position",
    "navigation.speedOverGround",
    "navigation.courseOverGroundTrue",
    "navigation.headingTrue",
    "navigation.headingMagnetic",
    "navigation.magneticVariation",
    "navigation.datetime",
    "navigation.gnss.*",
    "environment.depth.*",
    "environment.wind.*",
)


class SignalKInput(InputTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An [[input]] with `signalk`."""

    kind: ClassVar[str] = "signalk"

    signalk: SignalK

    def problems(self) -> list[tuple[str, str]]:
        return bad_address("signalk.address", self.signalk.address)

    def worker(self) -> InputWorker:
        return SignalKWorker(self.signalk, None)

    def worker_with(self, secret: SecretReader) -> InputWorker:
        return SignalKWorker(self.signalk, secret)


class SignalKWorker:
    """Keeps one connection, and makes it anew."""

    def __init__(self, orders: SignalK, secret: SecretReader | None) -> None:
        self._orders, self._secret = orders, secret

    def run(self, sink: InputSink, stop: threading.Event) -> None:
        backoff = Backoff()
        while not stop.is_set():
            try:
                why = self._talk(sink, stop, backoff)
            except (OSError, ValueError, ImportError) as error:
                why = why_not(error)
            if not stop.is_set():
                sink.news(False, f"the server at {self._orders.address} {why}")
                backoff.wait(stop)

    def _talk(self, sink: InputSink, stop: threading.Event, backoff: Backoff) -> str:
        from websockets.exceptions import ConnectionClosed

        wire = connect(self._orders, self._secret)
        with wire:
            ear = Ear(sink)
            sink.news(True)
            try:
                for text in subscriptions():
                    wire.send(text)
                heard_s = time.monotonic()
                while not stop.is_set():
                    try:
                        ear.take(wire.recv(timeout=LOOK_S))
                    except TimeoutError:
                        if time.monotonic() - heard_s > SILENT_S:
                            return "has said nothing for a minute"
                        continue
                    heard_s = time.monotonic()
                    backoff.reset()
            except ConnectionClosed:
                return "closed the connection"
        return "stopped"


class Ear:
    """What is heard on one connection, and what of it is news."""

    def __init__(self, sink: InputSink) -> None:
        self._sink = sink
        self._self = ""
        self._newest_s = float("-inf")  # the server's own time, as far as it was told
        self._seen: dict[tuple[str, str, str], float] = {}
        self._sentences = Sentences()

    def take(self, text: str | bytes) -> None:
        """One message: a greeting, a delta, or junk, which is handed on to be counted."""
        try:
            body: Any = json.loads(text)
        except (ValueError, RecursionError):
            raw = text if isinstance(text, bytes) else text.encode("utf-8", "replace")
            self._sink.data(raw[:200].replace(b"$", b"?").replace(b"!", b"?") + b"\r\n")
            return
        if not isinstance(body, dict):
            return
        if isinstance(body.get("self"), str):
            self._self = body["self"]
        greeted_s = delta.seconds(body.get("timestamp"))
        if greeted_s is not None:
            self._newest_s = max(self._newest_s, greeted_s)
        found = list(delta.values(body, self._self))
        stamps = [v.stamp_s for v in found if v.stamp_s is not None]
        self._newest_s = max([self._newest_s, *stamps])
        for value in sorted(found, key=_after):
            if self._is_news(value):
                for line in self._sentences.of(value):
                    self._sink.data(f"{line}\r\n".encode("ascii"))

    def _is_news(self, value: delta.Value) -> bool:
        """Not remembered from long ago, not said before. Without a stamp nobody can tell."""
        if value.stamp_s is None or value.path.startswith("notifications."):
            return False
        old_s = OLD_S if value.context == delta.SELF else OLD_AIS_S
        if self._newest_s - value.stamp_s > old_s:
            return False
        part = ",".join(value.value) if isinstance(value.value, dict) and not value.path else ""
        key = (value.context, value.path or part, value.source)
        if len(self._seen) > 50_000:
            self._seen.clear()
        if self._seen.get(key, float("-inf")) >= value.stamp_s:
            return False
        self._seen[key] = value.stamp_s
        return True


def _after(value: delta.Value) -> tuple[bool, bool]:
    """What makes a sentence comes after what goes into it: angles before speeds, places last."""
    leaf = value.path.rpartition(".")[2]
    return leaf == "position", leaf.startswith(("speed", "heading", "below"))


def subscriptions() -> list[str]:
    """Own ship's paths, and everything of the other vessels."""
    own = [{"path": path, "policy": "instant", "format": "delta"} for path in PATHS]
    other = [{"path": "*", "policy": "instant", "format": "delta"}]
    return [
        json.dumps({"context": "vessels.self", "subscribe": own}),
        json.dumps({"context": "vessels.*", "subscribe": other}),
    ]
