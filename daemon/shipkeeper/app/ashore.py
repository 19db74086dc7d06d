"""Ashore: wait for a boat's signs of life, and say who is silent when none come.

`Waiting` is the judgement alone: fed with what was heard and what could be reached, it gives
what is to be told, once. `Listener` takes the signs of life over HTTP; put a proxy with TLS in
front of it where they come over the open net (they are signed, not secret).
"""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Literal

import msgspec

from ..outlets.plain import one_line
from ..words.beat import MAX_BYTES, BadBeat, Beat, Replays, verify
from ..words.timing import duration_text

REACH_S = 5.0
IDLE_S = 10.0
MOST_AT_ONCE = 16

Reached = bool | None  # None: not asked for


class Told(msgspec.Struct, frozen=True):
    """One thing to tell a person."""

    what: Literal["silent", "heard again", "still silent", "cannot call", "calls again"]
    title: str
    text: str


class Waiting:
    """When is a boat silent, and what is dead? Times are seconds of one steady clock."""

    def __init__(self, boat: str, late_s: float, repeat_s: float, now_s: float) -> None:
        self.boat, self.late_s, self.repeat_s = boat, late_s, repeat_s
        self.heard_s = now_s  # as if heard at the start: a boat that never called is silent too
        self.beat: Beat | None = None
        self._told_s: float | None = None
        self._unheard_s: float | None = None  # when it was told that its alarms do not get through

    def hear(self, beat: Beat, now_s: float) -> Told | None:
        """A sign of life."""
        silent_s = now_s - self.heard_s
        was_told, self._told_s = self._told_s is not None, None
        self.heard_s, self.beat, self.boat = now_s, beat, beat.boat or self.boat
        if not was_told:
            return self._unheard(beat, now_s)
        return Told(
            "heard again",
            "BOAT HEARD AGAIN",
            f"{self.boat} is heard again after {duration_text(silent_s)}. {self._last()}",
        )

    def _unheard(self, beat: Beat, now_s: float) -> Told | None:
        """It lives, and its alarms do not get through."""
        if not beat.unheard:
            was_told, self._unheard_s = self._unheard_s is not None, None
            text = f"{self.boat}: its messages get through again. {self._last()}"
            return Told("calls again", "BOAT CALLS AGAIN", text) if was_told else None
        if self._unheard_s is not None and now_s - self._unheard_s < self.repeat_s:
            return None
        self._unheard_s = now_s
        whom = ", ".join(one_line(name) for name in beat.unheard[:5])
        return Told(
            "cannot call",
            "BOAT CANNOT CALL",
            f"{self.boat} keeps watch, but its messages do not reach: {whom}. {self._last()} "
            "Call aboard, or look at the push service.",
        )

    @property
    def is_late(self) -> bool:
        return self._told_s is not None

    def due(self, now_s: float) -> bool:
        """Whether something may be to tell, so that it is worth asking what can be reached."""
        since = now_s - self.heard_s
        if self._told_s is None:
            return since >= self.late_s
        return now_s - self._told_s >= self.repeat_s

    def judge(self, now_s: float, net: Reached, boat: Reached) -> Told | None:
        """net: this end reaches the net. boat: the boat's own computer or router answers."""
        if not self.due(now_s):
            return None
        first, self._told_s = self._told_s is None, now_s
        since = duration_text(now_s - self.heard_s)
        title, why = _which(net, boat)
        again = "" if first else "Still nothing. "
        text = f"{again}No sign of life from {self.boat} for {since}. {why} {self._last()}"
        return Told("silent" if first else "still silent", title, text.strip())

    def _last(self) -> str:
        if self.beat is None:
            return "It has not called since this watch began."
        alerts = self.beat.alerts
        stood = f", {alerts} alert(s) unacknowledged" if alerts else ", no alert"
        return f"Last it was {self.beat.watch}, crew {self.beat.crew}{stood}."


def _which(net: Reached, boat: Reached) -> tuple[str, str]:
    """(title, sentence): who is silent, as far as that can be told apart."""
    if net is False:
        return "LINK HERE DEAD", (
            "This end reaches nothing either: the fault may be here. Mend the link, or call aboard."
        )
    if boat is True:
        return "WATCH IS DEAD", (
            "The boat's link and computer answer, the watch does not: nobody keeps it. "
            "Restart it, or have someone look."
        )
    if boat is False:
        return "BOAT IS SILENT", (
            "Nothing aboard answers: no power, no link, or worse. Call the marina or a neighbour."
        )
    return "BOAT IS SILENT", (
        "Boat, link or watch: this end cannot tell which. Call aboard, the marina, a neighbour."
    )


def reachable(address: str, within_s: float = REACH_S) -> bool:
    """Whether somebody takes a connection at host:port. A refusal is an answer too."""
    host, _, port = address.rpartition(":")
    try:
        with socket.create_connection((host.strip("[]"), int(port)), timeout=within_s):
            return True
    except ConnectionRefusedError:
        return True
    except (OSError, ValueError):
        return False


class Listener:
    """Takes signed signs of life by POST at any path; tells nothing to anybody else."""

    def __init__(self, address: tuple[str, int], key: bytes, heard: Callable[[Beat], None]) -> None:
        """Raises OSError when the address cannot be listened at."""
        self.refused = 0
        self.last_refusal = ""
        replays, lock = Replays(), threading.Lock()
        slots = threading.BoundedSemaphore(MOST_AT_ONCE)
        listener = self

        class Handler(BaseHTTPRequestHandler):
            timeout = IDLE_S
            server_version, sys_version = "shipkeeper", ""

            def do_POST(self) -> None:  # the library's name
                if not slots.acquire(blocking=False):
                    self.send_error(503)
                    return
                try:
                    self._take()
                finally:
                    slots.release()

            def _take(self) -> None:
                try:
                    size = int(self.headers.get("Content-Length", ""))
                except ValueError:
                    size = -1
                if not 0 < size <= MAX_BYTES:
                    self.send_error(400)
                    return
                try:
                    with lock:
                        beat = verify(self.rfile.read(size), key)
                        replays.check(beat)
                except BadBeat as bad:
                    listener.refused += 1
                    listener.last_refusal = str(bad)
                    self.send_error(403)
                    return
                heard(beat)
                self.send_response(204)
                self.end_headers()

            def log_message(self, format: str, *args: object) -> None:  # noqa: A002  # the library's name
                """What strangers send is counted, not printed."""

        self._server = ThreadingHTTPServer(address, Handler)
        self._server.daemon_threads = True
        self._thread = threading.Thread(
            target=self._server.serve_forever, name="signs of life", daemon=True
        )
        self._thread.start()

    @property
    def port(self) -> int:
        return int(self._server.server_address[1])

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join(2.0)
