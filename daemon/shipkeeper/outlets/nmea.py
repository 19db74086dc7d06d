"""Alerts for the boat's own displays, as NMEA 0183 sentences; and their answers, if wanted.

ALF at every change, the whole list (ALC) and a heartbeat (HBT) each 30 s, all again for
somebody who newly listens. With `commands`, ACN and ACK from the wire acknowledge, silence or
take over; what is refused is answered with ARC. Whoever can send there can then acknowledge,
so it is off unless the orders say so. What takes a picture to judge is only silenced.

An ACN names the alert but not which occurrence of it was seen. So the answer is bound to what
was told here last, and for a moment after an alert came anew it is refused: the finger was on
its way before the eye could see.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Mapping
from typing import Annotated, ClassVar, Literal

import msgspec

from ..words.address import bad_address, host_port
from ..words.effects import Show, Wanted
from ..words.orders import Number, OutletTable
from ..words.sentence import body_of, time_field
from ..words.wires import Aboard, LevelOutlet, SecretReader
from . import alf
from .buses import Bus, SerialBus, TcpServer, UdpSender
from .link import Link

CYCLE_S = 30.0
LOOK_S = 0.2
STALLED_S = 5.0  # not shown anything for so long: the heartbeat says so
AGAIN_S = 2.0
UNSEEN_S = 1.0  # an answer so soon after an alert came anew was meant for the one before; ours
MOST_REMEMBERED = 4096
TAKER_S = 130.0  # a taker whose heartbeat is older may take nothing

Talker = Literal["II", "IN", "CA", "BN", "EI"]


class Nmea(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`nmea = { listen = "host:port" }`, or `udp = "host:port"`, or `serial = "/dev/..."`."""

    listen: str = ""
    udp: str = ""
    serial: str = ""
    baud: Annotated[int, Number(300, 921_600)] = 4800
    sentences: Literal["alf", "alr", "both"] = "alf"
    talker: Talker = "II"
    maker: str = ""  # three letters, if you own a maker's code; empty is a known deviation
    commands: bool = False


class NmeaOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """An [[outlet]] with `nmea`."""

    kind: ClassVar[str] = "nmea"
    sort: ClassVar[Literal["edge", "level"]] = "level"
    reader: ClassVar[Literal["person", "machine"]] = "machine"

    nmea: Nmea

    def problems(self) -> list[tuple[str, str]]:
        orders = self.nmea
        given = [key for key in ("listen", "udp", "serial") if getattr(orders, key)]
        found: list[tuple[str, str]] = []
        if len(given) != 1:
            found.append(("nmea", f"expected one of listen, udp, serial; found {given or 'none'}"))
        for key in ("listen", "udp"):
            if getattr(orders, key):
                found += bad_address(f"nmea.{key}", getattr(orders, key))
        if orders.maker and not (len(orders.maker) == 3 and orders.maker.isalnum()):
            found.append(("nmea.maker", f'expected three letters; found "{orders.maker}"'))
        if orders.commands and orders.udp:
            found.append(("nmea.commands", "what comes by UDP may come from anybody: not taken"))
        return found

    def open(self, secret: SecretReader) -> LevelOutlet:
        return NmeaSender(self.nmea, None)

    def open_shown(self, secret: SecretReader, aboard: Aboard) -> LevelOutlet:
        return NmeaSender(self.nmea, aboard)


class NmeaSender:
    """LevelOutlet of words.wires; a thread of its own holds the wire."""

    def __init__(self, orders: Nmea, aboard: Aboard | None, cycle_s: float = CYCLE_S) -> None:
        self._orders, self._aboard, self._cycle_s = orders, aboard, cycle_s
        self._link = Link("the NMEA 0183 wire", patience_s=AGAIN_S)
        self._lock = threading.Lock()
        self._show: Show | None = None
        self._shown_s = time.monotonic()
        self._stop = threading.Event()
        self._sent: dict[int, alf.Told] = {}
        self._sequence = self._beat = self._round = 0
        self._occurrences: dict[str, int] = {}  # alert -> the last that was told here
        self._anew: dict[str, float] = {}  # alert -> when it came again
        self._takers: dict[str, float] = {}  # where a heartbeat came from, and when
        self.port = 0  # where it listens
        self._thread = threading.Thread(target=self._live, name="nmea out", daemon=True)
        self._thread.start()

    def show(self, wanted: Wanted, state: Show) -> None:
        with self._lock:
            self._show, self._shown_s = state, time.monotonic()

    def link(self) -> tuple[bool, str] | None:
        return self._link.stands()

    def close(self) -> None:
        self._stop.set()
        self._thread.join(1.5)

    # -- the thread --------------------------------------------------------------------------

    def _live(self) -> None:
        while not self._stop.is_set():
            try:
                bus = self._open()
            except (OSError, ValueError) as error:
                self._link.set(False, _why(error))
                self._stop.wait(AGAIN_S)
                continue
            try:
                self._serve(bus)
            except OSError as error:
                self._link.set(False, _why(error))
                self._stop.wait(AGAIN_S)
            finally:
                bus.close()

    def _open(self) -> Bus:
        orders = self._orders
        if orders.listen:
            server = TcpServer(*host_port(orders.listen))
            self.port = server.port
            return server
        if orders.udp:
            return UdpSender(*host_port(orders.udp))
        return SerialBus(orders.serial, orders.baud)

    def _serve(self, bus: Bus) -> None:
        self._link.set(True)
        due_s = time.monotonic()
        while not self._stop.is_set():
            for sender, line in bus.lines(LOOK_S):
                if self._orders.commands:
                    self._heard(bus, sender, line)
            with self._lock:
                show, shown_s = self._show, self._shown_s
            if show is None or not show.at:
                continue
            if bus.fresh:
                bus.fresh = False
                self._all(bus)
            self._changes(bus, show)
            if time.monotonic() >= due_s:
                due_s = time.monotonic() + self._cycle_s
                self._cycle(bus, time.monotonic() - shown_s < STALLED_S)

    def _changes(self, bus: Bus, show: Show) -> None:
        """What stands now against what was sent last."""
        at, standing = time_field(show.at), dict[int, alf.Told]()
        for record in show.alerts:
            told = alf.told(record, at)
            if told is not None and told.state != "N":
                standing[record.number] = told
        for number, told in standing.items():
            before = self._sent.get(number)
            if before is None or _marks(before) != _marks(told):
                self._sent[number] = told
                self._tell(bus, told)
                if told.occurrence != self._occurrences.get(told.id, told.occurrence):
                    self._anew[told.id] = time.monotonic()
                self._remember(told)
        for number in [n for n in self._sent if n not in standing]:
            gone = self._sent.pop(number)
            revision = gone.revision % 99 + 1
            over = msgspec.structs.replace(gone, state="N", at=at, revision=revision, level=0)
            self._tell(bus, over)

    def _remember(self, told: alf.Told) -> None:
        """Which occurrence was told; of so many alerts and no more."""
        self._occurrences.pop(told.id, None)
        self._occurrences[told.id] = told.occurrence
        while len(self._occurrences) > MOST_REMEMBERED:
            oldest = next(iter(self._occurrences))
            del self._occurrences[oldest]
            self._anew.pop(oldest, None)

    def _all(self, bus: Bus) -> None:
        for told in self._sent.values():
            self._tell(bus, told)

    def _tell(self, bus: Bus, told: alf.Told) -> None:
        orders, lines = self._orders, list[str]()
        if orders.sentences in ("alf", "both"):
            lines += alf.alf(told, orders.talker, orders.maker, self._sequence)
            self._sequence = (self._sequence + 1) % 10
        if orders.sentences in ("alr", "both"):
            lines.append(alf.alr(told, orders.talker))
        _send(bus, lines)

    def _cycle(self, bus: Bus, well: bool) -> None:
        orders, lines = self._orders, list[str]()
        if orders.sentences in ("alf", "both"):
            lines += alf.alc([*self._sent.values()], orders.talker, orders.maker, self._round)
            self._round = (self._round + 1) % 100
        if orders.sentences in ("alr", "both"):
            lines += [alf.alr(told, orders.talker) for told in self._sent.values()]
        lines.append(alf.hbt(orders.talker, self._cycle_s, well, self._beat))
        self._beat = (self._beat + 1) % 10
        _send(bus, lines)

    # -- what is heard -------------------------------------------------------------------------

    def _heard(self, bus: Bus, sender: str, line: str) -> None:
        """ACN, ACK or a taker's HBT; everything else on the wire is not for us."""
        body = body_of(line)
        if body is None or len(body) < 6 or body[:1] == "P":
            return
        kind, fields = body[2:5], body.split(",")[1:]
        if kind == "HBT" and len(fields) > 1 and fields[1] == "A":
            self._takers[sender] = time.monotonic()
            self._command("heartbeat", {}, sender)
        elif kind == "ACK" and fields[:1] and fields[0].isdecimal():
            meant = [t for t in self._sent.values() if alf.alr_number(t) == int(fields[0])]
            if len(meant) == 1:  # of two with the same figures neither is meant
                self._acknowledge(meant[0], sender)
        elif kind == "ACN" and len(fields) > 5 and fields[5] == "C":
            self._acn(bus, sender, *fields[1:5])

    def _acn(
        self, bus: Bus, sender: str, maker: str, identifier: str, instance: str, command: str
    ) -> None:
        ours = maker == self._orders.maker
        meant = [
            told
            for told in self._sent.values()
            if ours and str(told.identifier) == identifier and str(told.instance) == instance
        ]
        if not meant and not (ours and identifier.isdecimal()):
            return  # another maker's alert: not ours to refuse
        if command == "Q" and not instance:
            self._all(bus)
            return
        done = bool(meant) and self._do(meant[0], sender, command)
        if command == "Q" and meant:
            self._tell(bus, meant[0])
        elif not done:
            at = time_field(self._show.at if self._show else "")
            orders = self._orders
            line = alf.arc(at, orders.talker, orders.maker, identifier, instance, command[:1])
            _send(bus, [line])

    def _do(self, told: alf.Told, sender: str, command: str) -> bool:
        if command == "A":
            return self._acknowledge(told, sender)
        if command == "S":
            return self._command("silence", {"id": told.id}, sender)
        if command == "O":
            # Only to a taker that is alive: its heartbeat was heard.
            if time.monotonic() - self._takers.get(sender, float("-inf")) > TAKER_S:
                return False
            return self._command("transfer", {"id": told.id, "to": f"bus {sender}"}, sender)
        return False

    def _acknowledge(self, told: alf.Told, sender: str) -> bool:
        """What was told here last, and nothing that came after it."""
        if time.monotonic() - self._anew.get(told.id, float("-inf")) < UNSEEN_S:
            return False
        args = {"id": told.id, "occurrence": told.occurrence, "seen": told.seen}
        return self._command("ack", args, sender)

    def _command(self, verb: str, args: Mapping[str, object], sender: str) -> bool:
        """True when it was done as asked; silenced instead of acknowledged is not."""
        if self._aboard is None:
            return False
        code, _ = self._aboard.obey(
            verb, dict(args), who=f"bus {sender}", where="aboard", through="nmea"
        )
        return code == 0


def _marks(told: alf.Told) -> tuple[int, str, str, int]:
    """What makes a change: words that only grow older do not."""
    return told.revision, told.state, told.priority, told.level


def _send(bus: Bus, lines: list[str]) -> None:
    if lines:
        bus.send("".join(f"{line}\r\n" for line in lines).encode("ascii"))


def _why(error: Exception) -> str:
    return str(getattr(error, "strerror", None) or error)
