"""Campaign: parts of the daemon raise or stand still.

    nice python -m tests.faults.inside [WORD]

Each worker raises once, in its turn: that is told, it is started again, and the alarm of that
moment sounds on time and reaches phone and log. The engine raises: the program starts anew and what
stood sounds again. The engine stands still, or the whole process does: no sign of life goes to
systemd (played here by a socket, with the unit's own WatchdogSec and RestartSec), so that within
15 s the watch is there again and sounds. The buzzer says itself that nobody refreshes it.
"""

from __future__ import annotations

import contextlib
import os
import re
import signal
import socket
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.aboard import ON_TIME_S, Aboard, aboard, doubled, left
from tests.live.boat import BUZZER, LOG, PHONE, RECORDER, ROOT

TANKS = 30
TOLD_WITHIN_S = 10.0
BACK_WITHIN_S = 15.0  # a restart by systemd; the issue's own figure
UNIT = (ROOT / "systemd" / "shipkeeper.service").read_text()
# Worker -> the alert that tells of its end.
WORKERS = {
    "input boat": "",  # told as news of the wire
    "outlet buzzer": "self:outlet-buzzer",
    "outlet skipper": "self:outlet-skipper",
    "outlet log": "self:outlet-log",
    "store": "self:worker-store",
    "control": "self:worker-control",
    "clock": "self:worker-clock",
    "hang watch": "self:worker-hang-watch",
    "watchdog": "self:worker-watchdog",
    "recorder": "self:worker-recorder",
}


@dataclass
class Told:
    """What rows came to."""

    sounds_s: list[float] = field(default_factory=list)
    back_s: list[float] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)


@contextlib.contextmanager
def unruly() -> Iterator[tuple[Aboard, Path]]:
    """A boat whose daemon can be spoilt, and the folder in which it is told so."""
    with (
        tempfile.TemporaryDirectory(prefix="shipkeeper-inside-") as name,
        aboard(Path(name), BUZZER, PHONE, LOG, RECORDER, tanks=TANKS) as boat,
    ):
        folder = Path(name) / "unruly"
        folder.mkdir()
        boat.boat.program = [sys.executable, "-m", "tests.faults.unruly"]
        boat.environment = {"UNRULY": str(folder), "PYTHONPATH": f"{ROOT}:{ROOT}/daemon"}
        yield boat, folder


def alarm(boat: Aboard, tank: int, where: str, told: Told, late_s: float = 0.0) -> None:
    took_s = boat.lower(tank)
    told.sounds_s.append(took_s)
    if took_s > ON_TIME_S + late_s:
        told.wrong.append(f"{where}: tank {tank} sounded after {took_s:.1f} s")


def reached(boat: Aboard, tank: int, where: str, told: Told) -> None:
    """Phone and log have it too."""
    name = re.compile(rf"TANK {tank} LOW")
    try:
        boat.until(
            lambda: any(name.search(f"{m['title']} {m['message']}") for m in boat.pushed()),
            TOLD_WITHIN_S, fed=True,
        )  # fmt: skip
    except TimeoutError:
        told.wrong.append(f"{where}: tank {tank} is not on the phone")
    try:
        boat.boat.logged(f'id="tank-{tank}"', TOLD_WITHIN_S)
    except Exception as error:  # noqa: BLE001  # an empty queue
        told.wrong.append(f"{where}: tank {tank} is not in the log: {error!r}")


def worker(name: str, tank: int, boat: Aboard, folder: Path, told: Told) -> None:
    """One worker raises; at once an alarm."""
    deaths = boat.state()["daemon"]["restarts"].get(name, 0)
    spoilt = folder / name.replace(" ", "-")
    spoilt.touch()
    boat.until(lambda: not spoilt.exists(), fed=True)
    # The dead wire is up again after its first pause, and then says what it has to say.
    late_s = 3.0 if name in ("input boat", "outlet buzzer") else 0.0
    if name == "input boat":
        boat.until(lambda: boat.state()["daemon"]["restarts"].get(name, 0) > deaths)
        boat.boat.server.hang_up()
    alarm(boat, tank, name, told, late_s)
    reached(boat, tank, name, told)
    boat.until(lambda: boat.state()["daemon"]["restarts"].get(name, 0) == deaths + 1)
    alert = WORKERS[name]
    if alert:
        try:
            boat.until(lambda: boat.standing(alert), TOLD_WITHIN_S, fed=True)
        except TimeoutError:
            told.wrong.append(f"{name}: {alert} does not stand")
    boat.answered(tank)
    boat.fill(tank)


def workers(told: Told) -> None:
    """All of them, in turn, on one boat."""
    with unruly() as (boat, folder):
        boat.environment |= {"WATCHDOG_USEC": "60000000", "NOTIFY_SOCKET": str(folder / "none")}
        boat.start()
        boat.anchor()
        for tank, name in enumerate(WORKERS, start=1):
            worker(name, tank, boat, folder, told)
        now = left(boat.boat.state)
        told.wrong += [f"twice: {what}" for what in (doubled(now.journal) if now else ["none"])]
        if boat.stop() != 0:
            told.wrong.append("it did not end well")


def engine(told: Told) -> None:
    """The engine raises: by hand the program starts itself anew."""
    with unruly() as (boat, folder):
        boat.start()
        boat.anchor()
        alarm(boat, 1, "engine", told)
        assert boat.daemon is not None
        printed, began_s = len(boat.daemon.printed), time.monotonic()
        (folder / "engine").touch()
        boat.feed()
        boat.daemon.says("starting afresh")
        if not any("the watch itself has failed" in line for _, line in boat.daemon.printed):
            told.wrong.append("engine: the fault was not heard")
        told.back_s.append(boat.sounded(1, printed) - began_s)
        boat.answered(1)
        alarm(boat, 2, "engine, after", told)


class Manager:
    """As much of systemd as the watchdog needs."""

    def __init__(self, folder: Path) -> None:
        self.interval_s, self.pause_s = _seconds("WatchdogSec"), _seconds("RestartSec")
        self._wire = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._wire.bind(str(folder / "notify"))
        self.environment = {
            "NOTIFY_SOCKET": str(folder / "notify"),
            "WATCHDOG_USEC": str(round(self.interval_s * 1e6)),
            "INVOCATION_ID": "played",
        }

    def ready(self) -> None:
        self._wire.settimeout(60.0)
        while not self._wire.recv(1000).startswith(b"READY=1"):
            pass

    def starved(self, most_s: float) -> bool:
        """Until no sign of life came for the interval; False when they go on for so long."""
        edge_s, fed_s = time.monotonic() + most_s, time.monotonic()
        self._wire.settimeout(0.1)
        while time.monotonic() - fed_s < self.interval_s:
            with contextlib.suppress(TimeoutError):
                if b"WATCHDOG=1" in self._wire.recv(1000):
                    fed_s = time.monotonic()
            if time.monotonic() > edge_s:
                return False
        return True

    def close(self) -> None:
        self._wire.close()


def _seconds(key: str) -> float:
    found = re.search(rf"^{key}=(\d+)$", UNIT, re.MULTILINE)
    assert found is not None
    return float(found[1])


def stalled(told: Told, *, whole: bool) -> None:
    """The engine, or the whole process, stands still while an alarm waits for an answer."""
    where = "the process is stopped" if whole else "the engine stands"
    with unruly() as (boat, folder):
        manager = Manager(folder)
        boat.environment |= manager.environment
        daemon = boat.start()
        manager.ready()
        boat.anchor()
        alarm(boat, 1, where, told)
        if manager.starved(manager.interval_s / 2):
            told.wrong.append(f"{where}: starved before it was spoilt")
        stands, began_s = folder / "engine-stands", time.monotonic()
        if whole:
            daemon.process.send_signal(signal.SIGSTOP)
        else:
            stands.touch()
        if not manager.starved(BACK_WITHIN_S * 2):
            told.wrong.append(f"{where}: signs of life went on")
        # What systemd does then, and that it wakes a stopped process for it, is from memory.
        daemon.process.send_signal(signal.SIGABRT)
        daemon.process.send_signal(signal.SIGCONT)
        daemon.process.wait(30)
        stands.unlink(missing_ok=True)
        time.sleep(manager.pause_s)
        boat.start()
        manager.ready()
        boat.sounded(1)
        took_s = time.monotonic() - began_s
        told.back_s.append(took_s)
        if took_s > BACK_WITHIN_S:
            told.wrong.append(f"{where}: sounds again after {took_s:.1f} s, "
                              f"load {os.getloadavg()[0]:.1f}")  # fmt: skip
        manager.close()


def engine_stands(told: Told) -> None:
    """See `stalled`."""
    stalled(told, whole=False)


def process_stopped(told: Told) -> None:
    """See `stalled`."""
    stalled(told, whole=True)


def buzzer_unrefreshed(told: Told) -> None:
    """The engine stands in a quiet watch: the buzzer says so by itself; an alarm comes after."""
    with unruly() as (boat, folder):
        daemon = boat.start()
        boat.anchor()
        began_s = time.monotonic()
        (folder / "engine-stands").touch()
        took_s = daemon.says("the watch has stopped answering", 15.0) - began_s
        told.notes.append(f"the buzzer said so after {took_s:.1f} s")
        if took_s > 8.0:
            told.wrong.append(f"the buzzer said only after {took_s:.1f} s that the watch stands")
        (folder / "engine-stands").unlink()
        alarm(boat, 1, "after the engine stood", told)


def sounder_stands(told: Told) -> None:
    """The thread of the buzzer hangs: told, and it sounds again when it can."""
    with unruly() as (boat, folder):
        boat.start()
        boat.anchor()
        (folder / "sounder-stands").touch()
        boat.low.add(1)
        boat.feed(4)
        try:
            boat.until(lambda: boat.standing("self:outlet-buzzer"), TOLD_WITHIN_S, fed=True)
        except TimeoutError:
            told.wrong.append("the buzzer hangs and nobody is told")
        reached(boat, 1, "sounder", told)
        (folder / "sounder-stands").unlink()
        boat.sounded(1)


ROWS: tuple[Callable[[Told], None], ...] = (
    workers, engine, engine_stands, process_stopped, buzzer_unrefreshed, sounder_stands,
)  # fmt: skip


def main(rows: Sequence[Callable[[Told], None]], word: str) -> int:
    """Those with the word in their names, and what each came to."""
    wrong = 0
    for row in rows:
        name = row.__name__.replace("_", " ")
        if word not in name:
            continue
        told, began_s = Told(), time.monotonic()
        try:
            row(told)
        except (TimeoutError, AssertionError, OSError) as error:
            told.wrong.append(repr(error))
        wrong += bool(told.wrong)
        back = f", back after {max(told.back_s):.1f} s" if told.back_s else ""
        notes = "".join(f"; {note}" for note in told.notes)
        print(f"{'WRONG' if told.wrong else 'GOOD '} {name}: {len(told.sounds_s)} alarms, the "
              f"slowest sound after {max(told.sounds_s, default=0.0):.2f} s{back}{notes} "
              f"({time.monotonic() - began_s:.0f} s)", flush=True)  # fmt: skip
        for line in told.wrong:
            print(f"      {line}")
    print(f"{wrong} rows not as they should be")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(ROWS, sys.argv[1] if len(sys.argv) > 1 else ""))
