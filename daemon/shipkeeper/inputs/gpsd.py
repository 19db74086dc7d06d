"""gpsd as an input, over its JSON protocol: its position reports become sentences.

They are made into RMC, GGA and GST here, so that a recording of the night is plain sentences
and a rehearsal needs no gpsd. AIS and instruments that gpsd passes on come as they are. A
report without a fix is told as no fix; a receiver that gpsd has lost is a wire that is down,
though gpsd itself still answers.
"""

from __future__ import annotations

import json
import math
import socket
import threading
import time
from datetime import UTC, datetime
from typing import Any, ClassVar

from ..words.address import bad_address, host_port
from ..words.orders import InputTable
from ..words.sentence import lat_lon, sentence
from ..words.wires import InputSink, InputWorker
from .backoff import Backoff
from .dialled import keep_connected

PORT = 2947
READ_WAIT_S = 0.5
NO_REPORT_S = 10.0  # gpsd does not notice each loss of a device: it only falls silent
SILENT_S = 30.0  # nothing at all: gpsd is asked whether it is there; twice: the line is dead
MOST_BYTES = 1 << 20  # one JSON line is at most some kilobytes
MS_PER_KN = 1852.0 / 3600.0
# Own position comes from the JSON; what else gpsd passes on as sentences is taken as it is.
_POSITION = frozenset({"RMC", "GGA", "GLL", "GNS", "GSA", "GST", "VTG", "ZDA", "GBS", "GSV"})


class GpsdInput(InputTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`gpsd = "host:port"`, mostly "127.0.0.1:2947"; `device = "/dev/..."` when it has several."""

    kind: ClassVar[str] = "gpsd"

    gpsd: str
    device: str = ""

    def problems(self) -> list[tuple[str, str]]:
        return bad_address("gpsd", self.gpsd)

    def worker(self) -> InputWorker:
        return GpsdWorker(*host_port(self.gpsd), self.device)


class GpsdWorker:
    """Keeps one connection, and makes it anew."""

    def __init__(self, host: str, port: int, device: str = "") -> None:
        self._host, self._port, self._device = host, port, device

    def run(self, sink: InputSink, stop: threading.Event) -> None:
        def talk(wire: socket.socket, backoff: Backoff) -> str:
            return _Talk(wire, sink, self._device).until(stop, backoff)

        where = f"gpsd at {self._host}:{self._port}"
        keep_connected((self._host, self._port), where, talk, sink, stop)


class _Talk:
    """One connection: what gpsd says, and what becomes of it."""

    def __init__(self, wire: socket.socket, sink: InputSink, device: str) -> None:
        self._wire, self._sink, self._device = wire, sink, device
        self._devices: set[str] = set()
        self._up: bool | None = None
        self._sky: dict[str, dict[str, Any]] = {}  # device -> its last SKY

    def until(self, stop: threading.Event, backoff: Backoff) -> str:
        """Why it ended."""
        watch: dict[str, Any] = {"enable": True, "json": True, "nmea": True}
        if self._device:
            watch["device"] = self._device
        self._wire.settimeout(READ_WAIT_S)
        try:
            self._wire.sendall(f"?WATCH={json.dumps(watch)};\n".encode())
        except OSError as error:
            return f"broke off: {error.strerror or error}"
        rest, heard_s, asked = b"", time.monotonic(), False
        while not stop.is_set():
            try:
                chunk = self._wire.recv(65_536)
            except TimeoutError:
                silent_s = time.monotonic() - heard_s
                if silent_s > NO_REPORT_S and self._up:
                    self._told(False, f"gpsd has passed nothing on for {NO_REPORT_S:.0f} s")
                if silent_s > 2 * SILENT_S:
                    return "has said nothing for a minute"
                if silent_s > SILENT_S and not asked:
                    asked = True
                    self._wire.sendall(b"?DEVICES;\n")
                continue
            except OSError as error:
                return f"broke off: {error.strerror or error}"
            if not chunk:
                return "closed the connection"
            heard_s, asked = time.monotonic(), False
            backoff.reset()
            *lines, rest = (rest + chunk).split(b"\n")
            for line in lines:
                self._line(line.strip())
            if len(rest) > MOST_BYTES:
                return "says a line without an end"
        return "stopped"

    def _line(self, line: bytes) -> None:
        if line[:1] in (b"$", b"!"):
            if line[:1] == b"!" or line[3:6].decode("ascii", "replace") not in _POSITION:
                self._sink.data(line + b"\r\n")
            return
        try:
            body = json.loads(line)
        except ValueError:
            # gpsd 3.22 itself writes an attitude report that is no JSON (seen with GST and HDT
            # together); TCP damages nothing, so such a line does not speak against the wire.
            if line[:1] != b"{":
                self._sink.data(line + b"\r\n")  # counted as junk by whoever frames it
            return
        if isinstance(body, dict):
            self._report(body)

    def _report(self, body: dict[str, Any]) -> None:
        kind = body.get("class")
        if kind in ("DEVICES", "DEVICE"):
            self._device_news(body)
        elif kind == "SKY":
            # Some come without figures, only with satellites: these say nothing of the fix.
            if _number(body, "hdop") is not None:
                self._sky[str(body.get("device"))] = body
        elif kind == "TPV":
            self._told(True)
            for text in sentences(body, self._sky.get(str(body.get("device")), {})):
                self._sink.data(f"{text}\r\n".encode())
        elif kind == "GST":
            for text in errors(body):
                self._sink.data(f"{text}\r\n".encode())
        elif kind == "ERROR":
            self._told(False, f"gpsd says: {str(body.get('message'))[:80]}")

    def _device_news(self, body: dict[str, Any]) -> None:
        """Which receivers gpsd has: the whole list, or one that came or went."""
        listed = body.get("devices") if body.get("class") == "DEVICES" else None
        if isinstance(listed, list):
            self._devices = {str(d.get("path")) for d in listed if _is_open(d)}
        elif _is_open(body):
            self._devices.add(str(body.get("path")))
        else:
            self._devices.discard(str(body.get("path")))
        mine = {d for d in self._devices if not self._device or d == self._device}
        if mine:
            self._told(True)
        else:
            gone = self._device or body.get("path") or "any receiver"
            self._told(False, f"gpsd has lost {gone}" if self._up else "gpsd has no receiver open")

    def _told(self, up: bool, why: str = "") -> None:
        if up is not self._up:
            self._up = up
            self._sink.news(up, why)


def _is_open(device: Any) -> bool:
    """gpsd gives `activated` only for a device that it has open; 0 when it was closed."""
    return isinstance(device, dict) and bool(device.get("activated"))


def sentences(tpv: dict[str, Any], sky: dict[str, Any]) -> list[str]:
    """A TPV as RMC, and GGA with the dilution; what it lacks stays empty."""
    lat, lon, mode = _number(tpv, "lat"), _number(tpv, "lon"), _number(tpv, "mode")
    clock, day = _time(tpv.get("time"))
    fix = mode is not None and mode >= 2 and lat is not None and lon is not None
    # gpsd's status: 6 dead reckoning, 8 simulated: no fix for an anchor.
    doubtful = {6: "E", 8: "S"}.get(int(_number(tpv, "status") or 0))
    if not fix or lat is None or lon is None or abs(lat) > 90 or abs(lon) > 180:
        return [sentence(f"GPRMC,{clock},V,,,,,,,{day},,,N")]
    speed, track = _number(tpv, "speed"), _number(tpv, "track")
    knots = "" if speed is None else f"{speed / MS_PER_KN:.2f}"
    course = "" if track is None else f"{track % 360.0:.1f}"
    place = lat_lon(lat, lon)
    differential = _number(tpv, "status") in (2, 3, 4)
    letter = doubtful or ("D" if differential else "A")
    status = "V" if doubtful else "A"
    out = [sentence(f"GPRMC,{clock},{status},{place},{knots},{course},{day},,,{letter}")]
    hdop, used = _number(sky, "hdop"), _number(sky, "uSat")
    if hdop is not None and not doubtful:
        count = "" if used is None else f"{int(used):02d}"
        quality = "2" if differential else "1"
        out.append(sentence(f"GPGGA,{clock},{place},{quality},{count},{hdop:.2f},,M,,M,,"))
    return out


def errors(body: dict[str, Any]) -> list[str]:
    """The receiver's own estimate of its errors. Those in a TPV are gpsd's model, from the
    dilution that it passes on anyway; they are not taken for the receiver's word."""
    north, east = _number(body, "lat"), _number(body, "lon")
    if north is None or east is None:
        return []
    return [sentence(f"GPGST,{_time(body.get('time'))[0]},,,,,{north:.2f},{east:.2f},")]


def _number(body: dict[str, Any], key: str) -> float | None:
    value = body.get(key)
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value)


def _time(text: Any) -> tuple[str, str]:
    """('021345.00', '120626') of an ISO time; empty where there is none."""
    try:
        moment = datetime.fromisoformat(str(text)).astimezone(UTC)
    except ValueError:
        return "", ""
    return moment.strftime("%H%M%S") + f".{moment.microsecond // 10_000:02d}", moment.strftime(
        "%d%m%y"
    )
