"""Heartbeat: an outside watcher is called as long as the watch is really kept.

A level outlet: it is shown the state each second by the engine. When that stops, or a part of
the daemon that must move (engine, sounder, store) stands still, no sign of life goes out, and
whoever waits for it ashore raises the alarm. The same when alarms do not get through: a signed
sign of life says so, one that only fetches an address is kept back. The address is a secret: such
addresses are keys.
"""

from __future__ import annotations

import secrets
import ssl
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Sequence
from typing import Annotated, ClassVar, Literal
from urllib.parse import urlsplit

import msgspec
from msgspec import field

from ..words.alert import State
from ..words.beat import Beat, key_of, sign
from ..words.effects import Show, Wanted
from ..words.orders import OutletTable, Quantity
from ..words.wires import Aboard, LevelOutlet, SecretReader
from .link import Link

OPEN_S = 15.0
FRESH_S = 3.0  # shown no longer ago than this, or the engine stands still
LOOK_S = 0.5
RETRY_S = 10.0
UNSEEN = frozenset({State.UNACKNOWLEDGED, State.SILENCED})


class Heartbeat(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`heartbeat = { url = "credential:alive-url", every = "60 s", key = "credential:alive-key" }`.

    With a key signed signs of life are posted (`shipkeeper wait-for` checks them); without one
    the address is fetched, as a dead-man service wants it.
    """

    url: str  # the secret's name
    every_s: Annotated[float, Quantity("time", 5.0, 3600.0)] = field(default=60.0, name="every")
    key: str = ""  # the secret's name
    ca: str = ""  # file with the authority to trust, else the system's


class HeartbeatOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An [[outlet]] with `heartbeat`."""

    kind: ClassVar[str] = "heartbeat"
    sort: ClassVar[Literal["edge", "level"]] = "level"
    reader: ClassVar[Literal["person", "machine"]] = "machine"

    heartbeat: Heartbeat

    def secret_files(self) -> dict[str, str]:
        named = {"heartbeat.url": self.heartbeat.url, "heartbeat.key": self.heartbeat.key}
        return {key: name for key, name in named.items() if name}

    def explain(self) -> list[str]:
        how = "posts a signed sign of life" if self.heartbeat.key else "fetches its address"
        return [f"{how} each {self.heartbeat.every_s:g} s while the watch is kept"]

    def open(self, secret: SecretReader) -> LevelOutlet:
        return HeartbeatSender(self.heartbeat, secret, "", list)

    def open_shown(self, secret: SecretReader, aboard: Aboard) -> LevelOutlet:
        boat, orders = aboard.vessel, self.heartbeat
        return HeartbeatSender(orders, secret, boat, aboard.stuck, aboard.unheard)


class HeartbeatSender:
    """LevelOutlet of words.wires; a thread of its own makes the calls."""

    def __init__(
        self,
        orders: Heartbeat,
        secret: SecretReader,
        boat: str,
        stuck: Callable[[], Sequence[str]],
        unheard: Callable[[], Sequence[str]] = tuple,
    ) -> None:
        """ValueError for an address or key that cannot be used, told without it."""
        self._url = secret(orders.url)
        if urlsplit(self._url).scheme not in ("http", "https"):
            raise ValueError("the heartbeat's address must begin with http:// or https://")
        self._key = key_of(secret(orders.key)) if orders.key else None
        self._tls = ssl.create_default_context(cafile=orders.ca or None)
        self._every_s, self._boat = orders.every_s, boat
        self._stuck, self._unheard = stuck, unheard
        self._link = Link("the outside watcher")
        self._run, self._counter = secrets.token_hex(8), 0
        self._lock = threading.Lock()
        self._show: Show | None = None
        self._shown = time.monotonic()
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._live, name="heartbeat", daemon=True)
        self._thread.start()

    def show(self, wanted: Wanted, state: Show) -> None:
        """The engine moves."""
        with self._lock:
            self._show, self._shown = state, time.monotonic()

    def link(self) -> tuple[bool, str] | None:
        """Linked of words.wires."""
        return self._link.stands()

    def close(self) -> None:
        self._stop.set()
        self._thread.join(1.0)

    def _live(self) -> None:
        due = time.monotonic()
        while not self._stop.wait(LOOK_S):
            with self._lock:
                show, shown = self._show, self._shown
            now = time.monotonic()
            if now < due or show is None or now - shown > FRESH_S or self._stuck():
                continue
            unheard = tuple(self._unheard())
            if unheard and self._key is None:
                continue  # it can say nothing but that all is well
            try:
                self._call(show, unheard)
            except (OSError, ValueError) as error:
                self._link.set(False, _why(error))
                due = now + min(RETRY_S, self._every_s)
                continue
            self._link.set(True)
            due = now + self._every_s

    def _call(self, show: Show, unheard: tuple[str, ...]) -> None:
        data = None
        if self._key is not None:
            self._counter += 1
            beat = Beat(
                boat=self._boat,
                run=self._run,
                counter=self._counter,
                sent=time.time(),
                watch=show.watch,
                crew=show.crew,
                alerts=sum(record.state in UNSEEN for record in show.alerts),
                unheard=unheard,
            )
            data = sign(beat, self._key)
        request = urllib.request.Request(  # http and https alone, see above
            self._url, data=data, headers={"User-Agent": "shipkeeper"}
        )
        if data is not None:
            request.add_header("Content-Type", "application/json")
        # Its status is all that counts; what drips behind it is not waited for.
        urllib.request.urlopen(request, timeout=OPEN_S, context=self._tls).close()


def _why(error: Exception) -> str:
    """In words, without the address: it is a secret."""
    if isinstance(error, urllib.error.HTTPError):
        return f"it answers {error.code}"
    reason = getattr(error, "reason", error)
    if isinstance(reason, ssl.SSLError):
        return "its certificate is not trusted"
    return str(getattr(reason, "strerror", None) or type(reason).__name__)
