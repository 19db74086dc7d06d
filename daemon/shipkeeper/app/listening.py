"""What is heard on a wire, and at which speed: for `shipkeeper setup`, before there are orders.

A port is listened to at one speed after another until sentences with sound checksums come. A
port that another program reads is left alone: to change its speed would blind that program,
and it may be the watch itself.
"""

from __future__ import annotations

import os
import socket
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, Literal

import msgspec

from ..feed.decode import Decoder
from ..feed.framing import Framer
from ..words.address import host_port
from ..words.observations import (
    AisReport,
    AisStatic,
    Depth,
    Heading,
    Measurement,
    Position,
    RadarEcho,
    RadarPlace,
    Wind,
)

BAUDS = (4800, 38400, 9600, 115200, 57600, 19200, 230400, 460800)  # the usual ones first
LISTEN_S = 3.0  # at each speed; instruments send each second or two
ENOUGH = 3  # sound sentences by which a speed is known
MOST_KINDS = 40
WHAT = (
    (Position, "position"), (Heading, "heading"), (Depth, "depth"), (Wind, "wind"),
    (RadarEcho, "radar"), (RadarPlace, "radar"),
)  # fmt: skip

Found = Literal["sentences", "noise", "silence", "in use", "cannot be opened"]


class Hearing(msgspec.Struct, frozen=True, kw_only=True):
    """One wire. `what`: words for `expect`; `kinds`: sentence types, 'RMC'; baud: of a port."""

    key: Literal["serial", "tcp"]
    address: str
    found: Found
    baud: int | None = None
    good: int = 0
    bad: int = 0
    kinds: tuple[str, ...] = ()
    what: tuple[str, ...] = ()
    measures: tuple[str, ...] = ()
    why: str = ""


class Ear:
    """Counts what comes in. Pure: bytes and their time in, figures out."""

    def __init__(self) -> None:
        self.good = self.bad = self.octets = 0
        self._kinds: dict[str, None] = {}
        self._what: set[str] = set()
        self._measures: dict[str, None] = {}
        self._framer, self._decoder = Framer(), Decoder()

    def feed(self, at_s: float, chunk: bytes) -> None:
        self.octets += len(chunk)
        for line in self._framer.feed(chunk):
            heard = self._decoder.decode(at_s, "setup", line)
            if heard.verdict == "bad":
                self.bad += 1
                continue
            self.good += 1
            if heard.kind and len(self._kinds) < MOST_KINDS:
                self._kinds[heard.kind] = None
            for fact in heard.observations:
                self._note(fact)

    def _note(self, fact: Any) -> None:
        for kind, what in WHAT:
            if isinstance(fact, kind):
                self._what.add(what)
        if isinstance(fact, AisReport | AisStatic) and not fact.own:
            self._what.add("ais")
        if isinstance(fact, Measurement) and len(self._measures) < MOST_KINDS:
            self._measures[fact.name] = None

    @property
    def is_sound(self) -> bool:
        """Sentences, and more of them than damage: a wrong speed gives none by chance."""
        return self.good > 0 and self.good >= self.bad

    def told(self, key: Literal["serial", "tcp"], address: str, baud: int | None) -> Hearing:
        found: Found = "sentences" if self.is_sound else "noise" if self.octets else "silence"
        order = ("position", "heading", "depth", "wind", "ais", "radar")
        return Hearing(
            key=key, address=address, found=found, baud=baud if self.is_sound else None,
            good=self.good, bad=self.bad, kinds=tuple(self._kinds),
            what=tuple(w for w in order if w in self._what), measures=tuple(self._measures),
        )  # fmt: skip


def ports() -> list[str]:
    """Serial ports of this computer by the name that stays, one name a device."""
    from serial.tools import list_ports

    stays: dict[str, str] = {}
    for folder in ("/dev/shipkeeper", "/dev/serial/by-id"):  # the later is the easier to read
        links: dict[str, str] = {}
        for link in sorted(Path(folder).glob("*")):
            links.setdefault(os.path.realpath(link), str(link))
        stays |= links
    return [stays.get(p, p) for p in sorted(port.device for port in list_ports.comports())]


def listen_to_all(
    paths: Sequence[str], for_s: float = LISTEN_S, bauds: Sequence[int] = BAUDS
) -> list[Hearing]:
    """All ports at the same time, answers in the order of the paths."""
    if not paths:
        return []
    with ThreadPoolExecutor(len(paths)) as pool:
        return list(pool.map(lambda path: listen_serial(path, for_s, bauds), paths))


def listen_serial(path: str, for_s: float = LISTEN_S, bauds: Sequence[int] = BAUDS) -> Hearing:
    """One port: at each speed for so long, until sentences come."""
    import serial

    user = _user_of(path)
    if user:
        return Hearing(key="serial", address=path, found="in use", why=f"{user} reads it")
    best = Ear()
    try:
        with serial.Serial(path, bauds[0], timeout=0.1) as port:
            for baud in bauds:
                port.baudrate = baud
                port.reset_input_buffer()
                ear = _hear(port, for_s)
                if ear.is_sound:
                    return ear.told("serial", path, baud)
                if ear.octets > best.octets:
                    best = ear
    except (serial.SerialException, OSError, ValueError) as error:
        number = getattr(error, "errno", None)
        why = os.strerror(number) if isinstance(number, int) else str(error)[:120]
        return Hearing(key="serial", address=path, found="cannot be opened", why=why)
    return best.told("serial", path, None)


def listen_tcp(address: str, for_s: float = LISTEN_S) -> Hearing:
    """A server of sentences, 'host:port'. Raises ValueError for an address that is none."""
    ear = Ear()
    try:
        with socket.create_connection(host_port(address), timeout=5.0) as wire:
            edge_s = time.monotonic() + for_s
            while (left_s := edge_s - time.monotonic()) > 0:
                wire.settimeout(left_s)
                try:
                    chunk = wire.recv(65_536)
                except TimeoutError:
                    break
                if not chunk:
                    break
                ear.feed(time.monotonic(), chunk)
    except OSError as error:
        why = error.strerror or str(error)
        return Hearing(key="tcp", address=address, found="cannot be opened", why=why)
    return ear.told("tcp", address, None)


def _hear(port: Any, for_s: float) -> Ear:
    """Once it is plain that the speed is right, one full time more: who sends what?"""
    ear = Ear()
    edge_s = time.monotonic() + for_s
    is_known = False
    while (now_s := time.monotonic()) < edge_s:
        chunk = port.read(port.in_waiting or 1)
        if chunk:
            ear.feed(now_s, chunk)
        if not is_known and ear.good >= ENOUGH and ear.is_sound:
            is_known, edge_s = True, now_s + for_s
    return ear


def _user_of(path: str) -> str:
    """'gpsd (412)': another process that has the port open, as far as we may see; else ''."""
    device = os.path.realpath(path)
    for process in Path("/proc").glob("[0-9]*"):
        if int(process.name) == os.getpid():
            continue
        try:
            for held in (process / "fd").iterdir():
                if str(held.readlink()) == device:
                    return f"{(process / 'comm').read_text().strip()} ({process.name})"
        except OSError:
            continue
    return ""
