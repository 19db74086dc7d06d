"""Alerts to a server of the Signal K format, as notification deltas over a WebSocket.

A level outlet: it shows what stands, all of it again after each connection, and takes away
what an earlier run left there. Where the server itself has an alarm at the same place that is
at least as grave, ours is shown there without a sound: one event, one sound.
"""

from __future__ import annotations

import contextlib
import json
import threading
from typing import Any, ClassVar, Literal

from ..link.signalk import SignalK, connect, why_not
from ..words import delta
from ..words.address import bad_address
from ..words.alert import State
from ..words.effects import Show, Wanted
from ..words.orders import OutletTable
from ..words.wires import LevelOutlet, SecretReader
from . import signalk_words
from .link import Link

LOOK_S = 0.25
FIRST_PAUSE_S, MOST_PAUSE_S = 0.5, 15.0


class SignalKOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An [[outlet]] with `signalk_alerts`."""

    kind: ClassVar[str] = "signalk_alerts"
    sort: ClassVar[Literal["edge", "level"]] = "level"
    reader: ClassVar[Literal["person", "machine"]] = "machine"

    signalk_alerts: SignalK

    def problems(self) -> list[tuple[str, str]]:
        return bad_address("signalk_alerts.address", self.signalk_alerts.address)

    def secret_files(self) -> dict[str, str]:
        token = self.signalk_alerts.token
        return {"signalk_alerts.token": token} if token else {}

    def open(self, secret: SecretReader) -> LevelOutlet:
        return SignalKSender(self.signalk_alerts, secret)


class SignalKSender:
    """LevelOutlet of words.wires; a thread of its own holds the connection."""

    def __init__(self, orders: SignalK, secret: SecretReader) -> None:
        self._orders, self._secret = orders, secret
        self._link = Link(f"the server at {orders.address}")
        self._lock = threading.Lock()
        self._show: Show | None = None
        self._wake, self._stop = threading.Event(), threading.Event()
        self._sent: dict[str, Any] = {}
        self._left: set[str] = set()  # of ours, as the server has them from before
        self._others: dict[str, int] = {}  # path of somebody else's notification -> how grave
        self._thread = threading.Thread(target=self._live, name="signal k out", daemon=True)
        self._thread.start()

    def show(self, wanted: Wanted, state: Show) -> None:
        """Before the engine's first word nothing is known, so nothing is said."""
        if state.at:
            with self._lock:
                self._show = state
            self._wake.set()

    def link(self) -> tuple[bool, str] | None:
        return self._link.stands()

    def close(self) -> None:
        self._stop.set()
        self._wake.set()
        self._thread.join(1.5)

    # -- the thread ----------------------------------------------------------------------------

    def _live(self) -> None:
        pause_s = FIRST_PAUSE_S
        while not self._stop.is_set():
            try:
                self._talk()
                pause_s = FIRST_PAUSE_S
            except (OSError, ValueError, ImportError) as error:
                self._link.set(False, why_not(error))
            self._stop.wait(pause_s)
            pause_s = min(MOST_PAUSE_S, pause_s * 2)

    def _talk(self) -> None:
        """One connection, to its end. Raises OSError or ValueError when there is none."""
        from websockets.exceptions import ConnectionClosed

        wire = connect(self._orders, self._secret)
        with wire, contextlib.suppress(ConnectionClosed):
            self._link.set(True)
            self._sent, self._left, self._others = {}, set(), {}
            path = {"path": "notifications.*", "policy": "instant", "format": "delta"}
            wire.send(json.dumps({"context": "vessels.self", "subscribe": [path]}))
            while not self._stop.is_set():
                self._wake.clear()
                with contextlib.suppress(TimeoutError):
                    while True:
                        self._heard(wire.recv(timeout=LOOK_S if not self._wake.is_set() else 0.01))
                self._send(wire)
            self._link.set(False, "closed")
            return
        self._link.set(False, "closed the connection")

    def _send(self, wire: Any) -> None:
        """What differs from what the server was told."""
        with self._lock:
            show = self._show
        if show is None:
            return
        # What cannot be judged is not told as an alert of its own, and not as normal either.
        standing = {signalk_words.path_of(r): r for r in show.alerts}
        changed: dict[str, Any] = {}
        for path, record in standing.items():
            if record.state is State.UNKNOWN:
                continue
            branch = signalk_words.branch_of(path)
            theirs = max((g for p, g in self._others.items() if p == branch), default=0)
            mine = signalk_words.RANK[signalk_words.STATES[record.priority]]
            value = signalk_words.value_of(record, quiet=theirs >= mine)
            if self._sent.get(path) != value:
                changed[path] = value
        for path in (self._left | set(self._sent)) - set(standing):
            changed[path] = None
        if not changed:
            return
        wire.send(json.dumps(signalk_words.delta(changed, show.at)))
        for path, value in changed.items():
            self._left.discard(path)
            if value is None:
                self._sent.pop(path, None)
            else:
                self._sent[path] = value

    def _heard(self, text: str | bytes) -> None:
        """Notifications that the server has: our own from before, and somebody else's."""
        try:
            body = json.loads(text)
        except (ValueError, RecursionError):
            return
        if not isinstance(body, dict):
            return
        for value in delta.values(body, str(body.get("self", ""))):
            if not value.path.startswith(signalk_words.ROOT):
                continue
            if signalk_words.is_ours(value.path):
                if value.value is not None and value.path not in self._sent:
                    self._left.add(value.path)
            elif isinstance(value.value, dict):
                grave = signalk_words.RANK.get(str(value.value.get("state")), 0)
                self._others[value.path] = grave
            else:
                self._others.pop(value.path, None)
