"""The rig made ready: copied, its image built once, shipkeeper installed by the real script.

The rig is a folder of its own beside the repository (build-image.sh, boot.py); it is copied to
a work folder and nothing is written where it came from.
"""

from __future__ import annotations

import importlib.util
import json
import os
import shutil
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

from demo import sentences

ROOT = Path(__file__).parents[2]
WORK = Path(os.environ.get("SHIPKEEPER_RIG_WORK", "/tmp/shipkeeper-rig"))
RIG = Path(os.environ.get("SHIPKEEPER_RIG", ROOT.parent / "shared" / "rig"))
PYTHON = os.environ.get("SHIPKEEPER_RIG_PYTHON", "3.11")  # what the image's Debian has
LAT, LON = 57.1, -5.2
DEGREE_M = 111_200.0  # of latitude; good enough to be well inside or outside a circle
KNOTS_8 = 4.0  # m in a second
FIRST_S = 240.0  # patience: the machine is emulated, and others may use the processor
BOOT_S = 900.0

BUZZER, LAMP, BUTTON, LOCKER = 1, 2, 6, 14
# Four of each, in turn: one that came as often as the power is cut would count as chatter.
HATCHES = {f"hatch-{n}": line for n, line in enumerate((3, 8, 9, 10), 1)}
FLOATS = {f"bilge-{n}": line for n, line in enumerate((5, 11, 12, 13), 1)}
CONTACTS = "".join(
    f"""
[[contact]]
name = "{name}"
chip = "/dev/gpiochip0"
line = {line}
priority = "{priority}"
clear = "{clear}"
"""
    for some, priority, clear in (
        (HATCHES, "alarm", "30 s"),
        (FLOATS, "emergency alarm", "30 s"),
        ({"locker": LOCKER}, "alarm", "0 s"),
    )
    for name, line in some.items()
)
ORDERS = f"""
[vessel]
name = "Marren"
length = "11.4 m"
beam = "3.6 m"
mmsi = 0

[[input]]
name = "gnss"
serial = "/dev/ttyS1"
baud = 4800
expect = ["position"]

[[input]]
name = "deck"
serial = "USBPORT"
baud = 38400
expect = ["depth"]

[drag]
radius = "45 m"
confirm = "5 s"

[[depth]]
name = "shoal water"
shallower_than = "2.5 m"
reference = "transducer"
confirm = "2 s"
priority = "alarm"
{CONTACTS}
[button]
chip = "/dev/gpiochip0"
line = {BUTTON}

[handling]
seeing = ["command line", "button"]

[[outlet]]
name = "buzzer"
buzzer = {{ chip = "/dev/gpiochip0", line = {BUZZER} }}

[[outlet]]
name = "deck lamp"
lamp = {{ chip = "/dev/gpiochip0", line = {LAMP} }}

[[outlet]]
name = "log"
syslog = {{ address = "/dev/log" }}
"""
# The chip is there before the watch, as on a board.
CHIP_UNIT = """[Unit]
DefaultDependencies=no
After=systemd-modules-load.service local-fs.target
Before=shipkeeper.service
[Service]
Type=oneshot
ExecStart=/usr/local/sbin/gpiosim create rig 16
RemainAfterExit=yes
[Install]
WantedBy=multi-user.target
"""
# Each line of the log goes out of the machine as well, where a power cut cannot take it back.
JOURNAL = """[Journal]
ForwardToConsole=yes
TTYPath=/dev/ttyS0
MaxLevelConsole=debug
"""
# The verbs start slowly on an emulated processor; this asks the same socket and starts at once.
ASK = """#!/usr/bin/python3 -SI
import json, socket, sys
s = socket.socket(socket.AF_UNIX); s.settimeout(20); s.connect("/run/shipkeeper/control")
s.sendall(json.dumps({"verb": sys.argv[1], "args": json.loads((sys.argv[2:] or ["{}"])[0]),
                      "where": "aboard"}).encode() + b"\\n")
print(s.makefile().readline())
"""
# Kills a process and prints the seconds until it was gone, and until the line was driven again.
# In the machine itself, and running before it kills: a look from outside comes late.
STRUCK = """#!/usr/bin/python3 -SI
import glob, os, sys, time
pid, signal, line = map(int, sys.argv[1:])
(value,) = glob.glob(f"/sys/devices/platform/gpio-sim.*/gpiochip*/sim_gpio{line}/value")
began = time.monotonic()
def past(test):
    while not test():
        time.sleep(0.01)
    return time.monotonic() - began
os.kill(pid, signal)
print(past(lambda: not os.path.exists(f"/proc/{pid}")), past(lambda: open(value).read(1) == "1"))
"""


def rig_there() -> bool:
    return (RIG / "boot.py").is_file() and (RIG / "build-image.sh").is_file()


def vm_class() -> Any:
    """The rig's VM, from our copy of it; with more patience for a boot."""
    spec = importlib.util.spec_from_file_location("rig_boot", WORK / "rig" / "boot.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)

    class Patient(module.VM):  # type: ignore[name-defined,misc]  # loaded by its path
        def start(self, timeout: float = BOOT_S) -> float:
            return float(super().start(timeout))

    return Patient


def image() -> Path:
    """The folder with the plain image, built when it is not there (minutes)."""
    WORK.mkdir(parents=True, exist_ok=True)
    shutil.rmtree(WORK / "rig", ignore_errors=True)
    shutil.copytree(RIG, WORK / "rig")
    folder = WORK / "image"
    if not (folder / "root.img").exists():
        subprocess.run(
            ["bash", str(WORK / "rig" / "build-image.sh")],
            env={**os.environ, "RIG_DIR": str(folder), "RIG_PIP": ""}, check=True,
        )  # fmt: skip
    return folder


def share() -> Path:
    """What the machine sees as /host: this source's wheel, all it needs, and systemd/."""
    folder = WORK / "share"
    wheels = folder / "wheels"
    wheels.mkdir(parents=True, exist_ok=True)
    pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
    for old in wheels.glob("shipkeeper-*.whl"):
        old.unlink()
    source = WORK / "source"
    shutil.rmtree(source, ignore_errors=True)
    source.mkdir()
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, source)
    shutil.copytree(ROOT / "daemon", source / "daemon", ignore=shutil.ignore_patterns("*.egg-info"))
    subprocess.run([*pip, "wheel", "--no-deps", "-w", str(wheels), str(source)], check=True)
    if len(list(wheels.glob("*.whl"))) < 5:
        platforms = [f"--platform=manylinux{n}_x86_64" for n in ("2014", "_2_17", "_2_28")]
        (wheel,) = wheels.glob("shipkeeper-*.whl")
        subprocess.run(
            [*pip, "download", "-d", str(wheels), "--only-binary=:all:", "--implementation=cp",
             f"--python-version={PYTHON}", *platforms, f"{wheel}[gpio]"], check=True,
        )  # fmt: skip
    for name in ("systemd", "config"):
        shutil.rmtree(folder / name, ignore_errors=True)
        shutil.copytree(ROOT / name, folder / name)
    return folder


class Feed(threading.Thread):
    """A receiver on ttyS1, one fix a second; `goal_m` moves the boat. Depth on the USB port."""

    def __init__(self, vm: Any) -> None:
        super().__init__(daemon=True)
        self._vm = vm
        self.north_m = self.goal_m = 0.0  # she goes to the goal as fast as a boat can
        self.depth_m: float | None = None  # on the USB port, when there is one
        self.usb: Any = None
        self.ended = threading.Event()

    def run(self) -> None:
        wire = self._vm.serial("ttyS1")
        while not self.ended.wait(1.0):
            step_m = max(-KNOTS_8, min(KNOTS_8, self.goal_m - self.north_m))
            self.north_m += step_m
            lat, now = LAT + self.north_m / DEGREE_M, time.time()
            lines = [
                sentences.rmc(now, lat, LON, abs(step_m) or 0.1, 0.0 if step_m >= 0 else 180.0),
                sentences.gga(now, lat, LON, 0.9),
            ]
            try:
                wire.sendall("".join(f"{line}\r\n" for line in lines).encode())
                if self.usb is not None and self.depth_m is not None:
                    self.usb.sendall(f"{sentences.dpt(self.depth_m, 0.0)}\r\n".encode())
            except OSError:
                return  # the power is cut
        wire.close()

    def end(self) -> None:
        self.ended.set()
        self.join(10.0)


class Guest:
    """What a person aboard would see and do, in the machine."""

    def __init__(self, vm: Any) -> None:
        self.vm = vm

    def ask(self, verb: str, **args: object) -> dict[str, Any]:
        rc, out = self.vm.run(f"/usr/local/bin/ask {verb} '{json.dumps(args)}'")
        if rc:
            raise RuntimeError(out)
        answer = json.loads(out)
        assert isinstance(answer, dict)
        return answer

    def standing(self) -> dict[str, str]:
        """Alert -> state, of all that stand."""
        rows = self.ask("alerts")["data"]["alerts"]
        return {row["id"]: row["state"] for row in rows}

    def has_fix(self) -> bool:
        return self.ask("status")["data"]["own"]["lat"] is not None

    def until(self, what: str, test: Any, within_s: float = FIRST_S) -> float:
        """Seconds until it is so. A daemon that is not up yet is waited for."""
        began_s, last = time.monotonic(), None
        while time.monotonic() - began_s < within_s:
            try:
                last = test()
            except RuntimeError as error:
                last = error
            if last and not isinstance(last, Exception):
                return time.monotonic() - began_s
            time.sleep(0.2)
        raise AssertionError(f"not seen in {within_s:.0f} s: {what}; last {last!r}")

    def sounds(self, within_s: float = FIRST_S, line: int = BUZZER) -> float:
        """Seconds until the line is high once."""
        began_s = time.monotonic()
        self.vm.sh(
            f"n=0; until [ $(gpiosim value {line}) = 1 ]; do n=$((n+1)); [ $n -lt 100000 ]; "
            f"sleep 0.03; done", timeout=within_s,
        )  # fmt: skip
        return time.monotonic() - began_s

    def quiet(self, for_s: float = 3.0, line: int = BUZZER) -> bool:
        """Never high in that time."""
        looks = int(for_s / 0.05)
        rc, _ = self.vm.run(
            f"n=0; while [ $n -lt {looks} ]; do [ $(gpiosim value {line}) = 0 ] || exit 1; "
            "n=$((n+1)); sleep 0.03; done", timeout=120,
        )  # fmt: skip
        return bool(rc == 0)

    def struck(self, signal: int, line: int = BUZZER) -> tuple[float, float]:
        """The watch's process is sent this; (seconds until it is gone, until the line is high)."""
        said = self.vm.sh(f"/usr/local/bin/struck {self.pid()} {signal} {line}", timeout=FIRST_S)
        gone_s, sound_s = map(float, said.split())
        return gone_s, sound_s

    def pull(self, line: int, way: str) -> None:
        self.vm.sh(f"gpiosim pull {line} {way}")

    def pid(self) -> int:
        return int(self.vm.sh("systemctl show -p MainPID --value shipkeeper"))

    def is_active(self) -> bool:
        return bool(self.vm.run("systemctl -q is-active shipkeeper")[0] == 0)
