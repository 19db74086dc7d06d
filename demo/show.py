"""The show: the real daemon keeps the night's watch, and you see all that comes out of it.

Nothing is special about the daemon here: `shipkeeper watch` runs as its own process with the
orders beside this file. It reads the boat's instruments over TCP and the AIS over a serial
port (a pty), and only its clock is told to go by the stamps in the feed, so that six hours
pass in about a minute. The phone is a small HTTP receiver, the syslog server a UDP receiver,
both on this machine; the buzzer's pattern is drawn, since there is no GPIO here.
"""

from __future__ import annotations

import argparse
import contextlib
import json
import os
import pty
import queue
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import textwrap
import threading
import time
import tty
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Self

from . import night as the_night
from .sentences import tagged

HERE = Path(__file__).parent
WIDTH = max(80, min(150, shutil.get_terminal_size((120, 24)).columns)) - 10  # without the origin
SLICE_S = 2.0
PACE = 400.0  # night seconds a second; the clock of the watch goes by the feed
SETTLE_S = 240.0  # of the night, before the anchor is set: by then the neighbour was heard
LOOK_S = 0.2
LAST_WORDS_S = 2.5  # the last sentences are judged, the last pushes come
WAKING_S = 0.35  # until the skipper has found the phone: two minutes of the night

Line = tuple[str, str]  # where it came from, text


@dataclass(frozen=True)
class Raise:
    """One time that an alert began to call for an answer."""

    alert: str
    rule: str
    kind: str
    mmsi: int | None
    utc_s: float
    caution: str  # when it was told as a caution before; '' if it was not


class Phone(BaseHTTPRequestHandler):
    """What a phone's push service gets: one JSON object a message."""

    lines: queue.Queue[Line]

    def do_POST(self) -> None:  # the name is http.server's
        body = self.rfile.read(int(self.headers.get("Content-Length", 0)))
        self.send_response(200)
        self.end_headers()
        with contextlib.suppress(ValueError):
            message = json.loads(body)
            text = f"{message.get('title', '')}\n{message.get('message', '')}"
            self.lines.put(("phone", text.strip()))

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002  # http.server's name
        return


@contextlib.contextmanager
def phone(lines: queue.Queue[Line]) -> Iterator[int]:
    """A receiver of pushes on loopback; gives its port."""
    handler = type("OurPhone", (Phone,), {"lines": lines})
    with ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.05,))
        thread.start()
        try:
            yield server.server_port
        finally:
            server.shutdown()
            thread.join()


@contextlib.contextmanager
def syslog(lines: queue.Queue[Line]) -> Iterator[int]:
    """A UDP syslog receiver on loopback; gives its port."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as receiver:
        receiver.bind(("127.0.0.1", 0))
        receiver.settimeout(LOOK_S)
        over = threading.Event()

        def listen() -> None:
            while not over.is_set():
                with contextlib.suppress(TimeoutError):
                    lines.put(("syslog", receiver.recv(65_535).decode("utf-8", "replace")))

        with at_work(listen, over):
            yield int(receiver.getsockname()[1])


@contextlib.contextmanager
def at_work(body: Callable[[], None], over: threading.Event) -> Iterator[None]:
    """A thread that ends with its block."""
    thread = threading.Thread(target=body)
    thread.start()
    try:
        yield
    finally:
        over.set()
        thread.join()


class Wires:
    """The two wires into the boat computer: a TCP server and a pty."""

    def __init__(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.settimeout(LOOK_S)
        self.port = int(self._listener.getsockname()[1])
        self._clients: list[socket.socket] = []
        self._master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        self.serial = os.ttyname(self._slave)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._accept)
        self._thread.start()

    def _accept(self) -> None:
        while not self._over.is_set():
            with contextlib.suppress(TimeoutError):
                self._clients.append(self._listener.accept()[0])

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._thread.join()
        for end in (self._listener, *self._clients):
            end.close()
        os.close(self._master)
        os.close(self._slave)

    def wait(self, timeout_s: float) -> None:
        edge = time.monotonic() + timeout_s
        while not self._clients:
            if time.monotonic() > edge:
                raise SystemExit("the daemon did not connect to its feed")
            time.sleep(0.02)

    def send(self, wire: str, data: bytes) -> None:
        if wire == "ais":
            while data:
                data = data[os.write(self._master, data) :]
            return
        for client in list(self._clients):
            try:
                client.sendall(data)
            except OSError:
                self._clients.remove(client)
                client.close()


def orders_for(folder: Path, wires: Wires, push_port: int, syslog_port: int) -> Path:
    """The orders with this run's ports, and the push address in a file of its own."""
    secret = folder / "push-urls"
    secret.write_text(f"json://127.0.0.1:{push_port}/\n")
    secret.chmod(0o600)
    text = (HERE / "orders.toml").read_text()
    for mark, value in (
        ("<boat>", f"127.0.0.1:{wires.port}"),
        ("<ais>", wires.serial),
        ("<push>", str(secret)),
        ("<syslog>", f"udp:127.0.0.1:{syslog_port}"),
    ):
        text = text.replace(mark, value)
    path = folder / "orders.toml"
    path.write_text(text)
    return path


def shipkeeper() -> list[str]:
    """The installed command, beside the Python that runs this."""
    beside = Path(sys.executable).parent / "shipkeeper"
    return [str(beside)] if beside.exists() else [sys.executable, "-m", "shipkeeper.cli.main"]


@contextlib.contextmanager
def daemon(orders: Path, folder: Path, lines: queue.Queue[Line]) -> Iterator[subprocess.Popen[str]]:
    """`shipkeeper watch` as its own process; what it prints goes to the queue."""
    process = subprocess.Popen(
        [*shipkeeper(), "watch", "--orders", str(orders), "--state", str(folder),
         "--clock", "feed", "--starts", "2026-06-11T21:59:59Z"],
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, bufsize=1,
    )  # fmt: skip

    def read() -> None:
        assert process.stdout is not None
        for text in process.stdout:
            lines.put(("watch", text.rstrip()))

    reader = threading.Thread(target=read, daemon=True)
    reader.start()
    try:
        yield process
    finally:
        process.send_signal(signal.SIGTERM)
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
        reader.join(2)
        if process.stdout is not None:
            process.stdout.close()


def order(orders: Path, folder: Path, *words: str) -> str:
    """A person's word to the daemon, by the command line."""
    done = subprocess.run(
        [*shipkeeper(), *words, "--state", str(folder)],
        capture_output=True, text=True, timeout=20, check=False,
    )  # fmt: skip
    return (done.stdout + done.stderr).strip()


def until_up(orders: Path, folder: Path) -> None:
    """Both wires are read: what is sent to a port that nobody has opened yet is lost."""
    edge_s = time.monotonic() + 20.0
    while time.monotonic() < edge_s:
        with contextlib.suppress(ValueError):
            status = json.loads(order(orders, folder, "status", "--json"))
            if all(wire["up"] for wire in status["inputs"]):
                return
        time.sleep(0.05)
    raise SystemExit("the daemon did not open its wires")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=7, help="another night, same story")
    parser.add_argument("--pace", type=float, default=PACE, help="night seconds a second")
    chosen = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="shipkeeper-demo-"))
    try:
        show(folder, chosen.seed, chosen.pace)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def show(folder: Path, seed: int, pace: float) -> None:
    print("An aid, never a look-out: COLREG rule 5 stands whatever this prints.")
    print("Making the night (boat, rode, wind, tide, receiver, ships) ...")
    heard = the_night.night(seed)
    lines: queue.Queue[Line] = queue.Queue()
    printer = Printer(lines)
    with Wires() as wires, phone(lines) as push_port, syslog(lines) as syslog_port:
        orders = orders_for(folder, wires, push_port, syslog_port)
        with daemon(orders, folder, lines):
            wires.wait(20)
            until_up(orders, folder)
            with Skipper(orders, folder, lines) as skipper:
                printer.skipper = skipper
                play(heard, wires, pace, orders, folder, printer)
                time.sleep(LAST_WORDS_S)
            printer.flush()
            printer.raised = raised_from(order(orders, folder, "log", "--json"))
        printer.flush()
    print_table(printer.raised)


def play(
    heard: list[the_night.Heard],
    wires: Wires,
    pace: float,
    orders: Path,
    folder: Path,
    printer: Printer,
) -> None:
    """Send each sentence when the night has come to it; set the anchor early on."""
    began, start = time.monotonic(), heard[0].utc_s
    anchored = False
    index = 0
    while index < len(heard):
        now = start + (time.monotonic() - began) * pace
        if not anchored and heard[index].utc_s >= start + SETTLE_S:
            place = the_night.ANCHOR
            print(order(orders, folder, "anchor", "at", f"{place.lat:.6f},{place.lon:.6f}",
                        "--rode", "40 m", "--depth", "7.2 m", "--rise", "0 m"))  # fmt: skip
            anchored = True
            began = time.monotonic() - SETTLE_S / pace
            continue
        batch: dict[str, list[str]] = {}
        # After a stall, in slices: or one wire would run ahead and the other seem silent.
        slice_end = min(now, heard[index].utc_s + SLICE_S)
        while index < len(heard) and heard[index].utc_s <= slice_end:
            item = heard[index]
            if not anchored and item.utc_s >= start + SETTLE_S:
                break
            batch.setdefault(item.wire, []).append(tagged(item.sentence, item.wire, item.utc_s))
            index += 1
        for wire, sentences in batch.items():
            wires.send(wire, ("\r\n".join(sentences) + "\r\n").encode("ascii"))
        printer.flush()
        time.sleep(0.002)


class Skipper:
    """The person who is woken: a while after a push, acknowledges what stands, one by one."""

    def __init__(self, orders: Path, folder: Path, lines: queue.Queue[Line]) -> None:
        self._orders, self._folder, self._lines = orders, folder, lines
        self._rung, self._over = threading.Event(), threading.Event()
        self._thread = threading.Thread(target=self._live)
        self._thread.start()

    def ring(self) -> None:
        self._rung.set()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._over.set()
        self._rung.set()
        self._thread.join()

    def _live(self) -> None:
        while self._rung.wait() and not self._over.is_set():
            self._rung.clear()
            if self._over.wait(WAKING_S):
                return
            with contextlib.suppress(ValueError, subprocess.TimeoutExpired):
                said = json.loads(order(self._orders, self._folder, "alerts", "--json"))
                for row in said["alerts"]:
                    if "unacknowledged" in row["state"]:
                        answer = order(self._orders, self._folder, "ack", row["id"])
                        self._lines.put(("skipper", f"$ shipkeeper ack {row['id']}\n{answer}"))


class Printer:
    """Prints what came out, each line marked with the way it came."""

    def __init__(self, lines: queue.Queue[Line]) -> None:
        self.lines = lines
        self.raised: list[Raise] = []
        self.skipper: Skipper | None = None

    def flush(self) -> None:
        while True:
            try:
                origin, text = self.lines.get_nowait()
            except queue.Empty:
                return
            if origin == "phone" and self.skipper is not None:
                self.skipper.ring()
            for number, part in enumerate(shown(origin, text)):
                print(f"{origin if number == 0 else '':>7} | {part}", flush=True)


def shown(origin: str, text: str) -> list[str]:
    """A push that tells of something new in full, as a person reads it; the rest cut short."""
    lines = text.splitlines()
    if origin == "phone" and lines[-1:] and " raised " in lines[-1]:
        return [part for line in lines for part in textwrap.wrap(line, WIDTH)]
    return [line if len(line) <= WIDTH else line[: WIDTH - 2] + " …" for line in lines]


def raised_from(journal: str) -> list[Raise]:
    """Each time that an alert began to call for an answer, with the caution that came before."""
    found: list[Raise] = []
    cautions: dict[str, str] = {}
    calling: set[str] = set()
    for text in journal.splitlines():
        with contextlib.suppress(ValueError):
            row = json.loads(text)
            alert, to = row.get("alert"), row.get("to")
            if to in ("normal", "unknown"):
                calling.discard(alert)
                cautions.pop(alert, None)
            elif to == "active":
                cautions[alert] = row["at"]
            elif to == "active-unacknowledged" and alert not in calling:
                calling.add(alert)
                found.append(
                    Raise(
                        alert,
                        row["rule"],
                        row["kind"],
                        row["mmsi"],
                        datetime.fromisoformat(row["at"]).timestamp(),
                        cautions.pop(alert, ""),
                    )
                )
    return found


def clock(utc_s: float) -> str:
    return datetime.fromtimestamp(utc_s, UTC).strftime("%H:%M:%S")


def print_table(raised: list[Raise]) -> None:
    """What happened, when it was truly so, when it was raised."""
    print()
    print(f"{'what happened':<40} {'truly so':<16} {'raised':<10} by")
    used: set[int] = set()
    for truth in the_night.TRUTHS:
        found = matching(truth, raised, used)
        span = f"{clock(the_night.START + truth.from_s)[:5]} to "
        span += clock(the_night.START + truth.to_s)[:5]
        if found is None:
            mark = "no alert, rightly" if truth.rule is None else "MISSED"
        else:
            mark = f"{clock(found.utc_s):<10} {found.rule}"
            mark += f" (a caution at {found.caution[11:19]})" if found.caution else ""
            mark += "  WRONGLY" if truth.rule is None else ""
        print(f"{truth.what:<40} {span:<16} {mark}")
    for number, extra in enumerate(raised):
        if number not in used:
            print(f"{'NOT SO: ' + extra.alert:<40} {'':<16} {clock(extra.utc_s):<10} {extra.rule}")


def matching(truth: the_night.Truth, raised: list[Raise], used: set[int]) -> Raise | None:
    """The first raise that tells of it, within five minutes of when it was so. Where none is
    right: whatever is raised about that ship, or about our own boat."""
    for number, row in enumerate(raised):
        night_s = row.utc_s - the_night.START
        fits = row.mmsi == truth.mmsi and truth.rule in (None, row.kind)
        if number not in used and fits and truth.from_s <= night_s <= truth.to_s + 300:
            used.add(number)
            return row
    return None


if __name__ == "__main__":
    main()
