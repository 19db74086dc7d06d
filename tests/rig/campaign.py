"""Shows on a virtual boat computer that the installed watch holds what it promises.

Usage: python -m tests.rig.campaign [PART ...] [--cuts N]

Parts: install lines serial restart down cuts lossy clock (default: all). Wants root, Debian 12 and
the rig (SHIPKEEPER_RIG, else ../shared/rig); it writes in SHIPKEEPER_RIG_WORK (/tmp/shipkeeper-rig)
alone. Not part of CI: with 20 cuts it takes most of an hour. Has WORK/image a Debian 13, say
SHIPKEEPER_RIG_PYTHON=3.13.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.rig.machine import (
    ASK,
    BUTTON,
    CHIP_UNIT,
    FLOATS,
    HATCHES,
    JOURNAL,
    LAMP,
    LAT,
    LOCKER,
    LON,
    ORDERS,
    RIG,
    STRUCK,
    WORK,
    Feed,
    Guest,
    image,
    rig_there,
    share,
    vm_class,
)  # fmt: skip

RESTART_S = 15.0
DOWN_S = 75.0  # a start may hang for 60 s, and the machine is slow
HANGS = "import time; time.sleep(1e6)"
BUSY_S = 180.0
CHATTER = "self:chatter-locker"
BEGAN_S = time.monotonic()


def ok(text: str) -> None:
    print(f"{time.monotonic() - BEGAN_S:7.1f} s  ok  {text}", flush=True)


def install(base: Path) -> Path:
    """The real script, twice (it may be run again), orders, a boot; kept as an image."""
    out = WORK / "installed"
    shutil.rmtree(out, ignore_errors=True)
    with vm_class()(rig=base, share=share(), cache="unsafe") as vm:
        ok(f"booted in {vm.boot_seconds:.0f} s")
        vm.put("/etc/systemd/system/rig-gpio.service", CHIP_UNIT)
        vm.put("/usr/local/bin/ask", ASK, "755")
        vm.put("/usr/local/bin/struck", STRUCK, "755")
        vm.put("/etc/systemd/journald.conf.d/rig.conf", JOURNAL)
        # The project's own rule has to do it, not the rig's.
        vm.sh("rm -f /etc/udev/rules.d/60-gpio.rules; systemctl enable --now -q rig-gpio")
        vm.plug("usb0")
        vm.wait_for("test -e /dev/serial/by-id/*")
        port = vm.sh("echo /dev/serial/by-id/*")
        began_s = time.monotonic()
        script = "sh /host/systemd/install --wheels /host/wheels --extras gpio"
        said = vm.sh(script, timeout=1500)
        ok(f"installed in {time.monotonic() - began_s:.0f} s: {said.splitlines()[-1]}")
        node = vm.sh("stat -c '%G %a' /dev/gpiochip0 /dev/ttyS1 /dev/ttyUSB0").split("\n")
        assert node == ["gpio 660", "dialout 660", "dialout 660"], node
        assert vm.sh("ls /dev/shipkeeper").startswith("socket-")
        ok(f"udev rules: {', '.join(node)}; /dev/shipkeeper/{vm.sh('ls /dev/shipkeeper')}")
        vm.put("/etc/shipkeeper/orders.toml", ORDERS.replace("USBPORT", port))
        vm.sh(
            "install -d /etc/systemd/system/multi-user.target.wants; systemctl enable -q shipkeeper"
        )
        vm.sh("systemctl start shipkeeper", timeout=300)
        guest = Guest(vm)
        ok(f"the watch is up: {guest.ask('status')['data'].get('watch')}; "
           + vm.sh("systemd-analyze security shipkeeper --no-pager | tail -1"))  # fmt: skip
        vm.sh("systemctl stop shipkeeper; rm -rf /var/lib/shipkeeper/*; sync")
        vm.shutdown()
        out.mkdir()
        subprocess.run(
            ["qemu-img", "convert", "-O", "raw", str(vm.dir / "disk.qcow2"), str(out / "root.img")],
            check=True,
        )
    for name in ("vmlinuz", "initrd.img"):
        shutil.copy(base / name, out)
    return out


class Scene:
    """A machine with the installed watch, its feed running, anchored."""

    def __init__(self, installed: Path, **how: Any) -> None:
        self.vm = vm_class()(rig=installed, share=WORK / "share", **how)
        self.guest = Guest(self.vm)

    def __enter__(self) -> Scene:
        self.vm.__enter__()
        self.wires()
        self.guest.until("the daemon answers", lambda: self.guest.ask("status"))
        self.guest.until(
            "a fix", lambda: self.guest.ask("status")["data"]["own"]["lat"] is not None
        )
        said = self.vm.sh(f"shipkeeper anchor at {LAT},{LON} || [ $? = 1 ]")
        ok(f"up {self.vm.boot_seconds:.0f} s after power on; {said.splitlines()[0]}")
        return self

    def wires(self) -> None:
        """After each power on."""
        self.vm.plug("usb0")
        self.feed = Feed(self.vm)
        self.feed.usb = self.vm.serial("usb0")
        self.feed.depth_m = 6.0
        self.feed.start()

    def __exit__(self, *exc: Any) -> None:
        self.feed.end()
        self.vm.__exit__(*exc)

    def log_bytes(self) -> int:
        """How much of the machine's log has left it."""
        return len(self._log())

    def told(self, alert: str, since: int) -> bool:
        """Whether the log says, from that byte on, that the alert stands."""
        return f'id="{alert}"'.encode() in self._log()[since:]

    def _log(self) -> bytes:
        return Path(self.vm.dir, "console.log").read_bytes()

    def drags(self) -> float:
        """Seconds from the jump to the sound."""
        began_s = time.monotonic()
        self.feed.goal_m = 90.0
        self.guest.until("the drag alarm", lambda: "drag" in self.guest.standing())
        self.guest.sounds()
        return time.monotonic() - began_s


def lines(installed: Path) -> None:
    """Buzzer, lamp, contact and button: driven and read."""
    with Scene(installed, cache="unsafe") as scene:
        guest = scene.guest
        ok(f"drag over ttyS1 at 4800: the buzzer's line is high {scene.drags():.0f} s after")
        guest.sounds(line=LAMP)
        ok("the lamp's line is driven")
        print(f"           standing: {guest.standing()}")
        guest.pull(BUTTON, "down")
        guest.until(
            "acknowledged by the button",
            lambda: guest.standing()["drag"] == "active-acknowledged",
        )
        guest.pull(BUTTON, "up")
        # The click that answers comes first; ten seconds are longer than the alarm's own pause.
        guest.until("the buzzer is quiet", lambda: guest.quiet(10.0))
        ok("a long press acknowledges, and the buzzer's line stays low")
        guest.pull(FLOATS["bilge-1"], "down")
        took_s = guest.until(
            "the bilge alarm", lambda: any("bilge" in alert for alert in guest.standing())
        )
        guest.sounds()
        ok(f"the float's contact closed: raised {took_s:.1f} s after, and it sounds")
        logged = scene.vm.sh(
            "grep -c 'shipkeeper' /var/log/syslog || journalctl -t shipkeeper | wc -l"
        )
        ok(f"{logged} lines in the system's log")


def serial(installed: Path) -> None:
    """A USB port unplugged and plugged in again in mid-alarm."""
    with Scene(installed, cache="unsafe") as scene:
        guest, vm = scene.guest, scene.vm
        scene.feed.depth_m = 1.5
        guest.until("shoal water", lambda: any("shoal" in alert for alert in guest.standing()))
        guest.sounds()
        ok("depth over USB at 38400: shoal water sounds")
        vm.unplug("usb0")
        guest.until(
            "the lost port is told",
            lambda: any("deck" in alert or "feed" in alert for alert in guest.standing()),
        )
        standing = guest.standing()
        assert any("shoal" in alert for alert in standing), standing
        ok(f"unplugged: {standing}")
        vm.plug("usb0")
        scene.feed.depth_m = 6.0
        took_s = guest.until(
            "shoal water is over", lambda: not any(
                "shoal" in alert and state.startswith("active")
                for alert, state in guest.standing().items()
            ),
        )  # fmt: skip
        ok(f"plugged in again: read again, {took_s:.0f} s after")


def restart(installed: Path) -> None:
    """kill -9 and a hang in mid-alarm: up within 15 s, and the alarm sounds again."""
    with Scene(installed, cache="unsafe") as scene:
        guest, vm = scene.guest, scene.vm
        scene.drags()
        kill, stop = signal.SIGKILL, signal.SIGSTOP
        for how, what in ((kill, "kill -9"), *[(stop, "a hang")] * 4):
            gone_s, sound_s = guest.struck(how)
            guest.until("the daemon answers", lambda: guest.ask("status"))
            assert "drag" in guest.standing()
            word = "ok" if sound_s <= RESTART_S else f"LATE, more than {RESTART_S:.0f} s"
            ok(f"{what}: gone {gone_s:.1f} s after, sounding {sound_s:.1f} s after: {word}")
            time.sleep(random.uniform(10.0, 20.0))  # anywhere between two feedings
        pid = guest.pid()
        vm.sh(
            "for n in 1 2 3 4; do (while :; do :; done) & done; for n in 1 2; do (while :; do dd "
            f"if=/dev/zero of=/root/$n bs=1M count=64 conv=fsync; done) 2>/dev/null & done; "
            f"sleep {BUSY_S:.0f}; kill $(jobs -p)", timeout=600,
        )  # fmt: skip
        assert guest.pid() == pid, "a busy machine was taken for a hang"
        ok(f"{BUSY_S:.0f} s of six busy processes, two of them writing: no restart")


def down(installed: Path) -> None:
    """The watch cannot start any more, at once or by a start that hangs: the second unit sounds,
    and the watch comes back."""
    with Scene(installed, cache="unsafe") as scene:
        guest, vm = scene.guest, scene.vm
        scene.drags()
        library = vm.sh("echo /opt/shipkeeper/venv/lib/python3*/site-packages/msgspec")
        for what, instead in (("is gone", "true"), ("hangs", f"echo '{HANGS}' >{library}.py")):
            vm.sh(f"mv {library} /root/; {instead}")
            began_s = time.monotonic()
            vm.sh(f"kill -9 {guest.pid()}")
            guest.until(
                "the second unit", lambda: vm.run("systemctl -q is-active shipkeeper-down")[0] == 0
            )
            guest.sounds()
            down_s = time.monotonic() - began_s
            word = "ok" if down_s <= DOWN_S else f"LATE, more than {DOWN_S:.0f} s"
            ok(f"a library {what}: the buzzer says so {down_s:.0f} s after, without it: {word}")
            vm.sh(f"rm -f {library}.py; mv /root/msgspec {library}")
            began_s = time.monotonic()
            guest.until("the watch again", lambda: guest.ask("status"))
            up_s = time.monotonic() - began_s
            assert "drag" in guest.standing()
            assert vm.run("systemctl -q is-active shipkeeper-down")[0]
            guest.sounds()
            ok(f"mended: the watch is back {up_s:.0f} s after, and the drag alarm sounds")


class Cuts:
    """Power cuts, and what each of them may not take away."""

    def __init__(self, scene: Scene, chance: random.Random) -> None:
        self.scene, self.chance = scene, chance
        self.told_before = self.told_after = self.never = self.acknowledged = 0
        guest = scene.guest
        while CHATTER not in guest.standing():
            for way in ("down", "up"):
                guest.pull(LOCKER, way)
                guest.until(f"the locker {way}", lambda down=way == "down": down is any(
                    alert == "locker" and state.startswith("active")
                    for alert, state in guest.standing().items()
                ) or CHATTER in guest.standing())  # fmt: skip
        guest.pull(LOCKER, "down")

    def one(self, number: int) -> None:
        """An alert stands, another is acknowledged (each second time), a third came and went until
        a caution said so, a fourth is raised within the last second. After the cut, before any
        fix: all that stood stands, the caution too, what was answered is answered, and what was
        raised last stands and is told again, or was told to nobody."""
        guest, vm = self.scene.guest, self.scene.vm
        hatch, last = (list(some)[number % len(some)] for some in (HATCHES, FLOATS))
        guest.pull(HATCHES[hatch], "down")
        guest.until("the hatch", lambda: hatch in guest.standing())
        answered = number % 2 == 1
        if answered:
            said = guest.ask("ack", id=hatch)
            assert said["code"] == 0, said
            self.acknowledged += 1
        before = guest.standing()
        assert {"drag", CHATTER, "locker"} <= set(before) and last not in before, before
        heard = self.scene.log_bytes()
        guest.pull(FLOATS[last], "down")
        time.sleep(self.chance.uniform(0.0, 1.0))
        lost = vm.power_cut()
        self.scene.feed.end()
        told = self.scene.told(last, heard)
        heard = self.scene.log_bytes()
        boot_s = vm.start()
        began_s = time.monotonic()
        guest.until("the daemon answers", lambda: guest.ask("status"))
        after = guest.standing()
        assert guest.ask("status")["data"]["watch"] == "anchored"
        assert set(before) <= set(after), (before, after)
        if answered:
            assert after[hatch] == "active-acknowledged", after
        if last in after:
            guest.until("told again", lambda: self.scene.told(last, heard))
            word = "told, and told again" if told else "told only after"
        else:
            assert not told, f"the last alert was told and is lost; {after}"
            word = "told to nobody"
        self.told_before += told
        self.told_after += last in after and not told
        self.never += last not in after
        guest.sounds()
        ok(
            f"cut {number}: {len(before)} stood, {len(after)} stand; the last: {word}; {lost} "
            f"writes lost; boot {boot_s:.0f} s, sounds {time.monotonic() - began_s:.0f} s after"
        )
        self._again({hatch, last})

    def _again(self, contacts: set[str]) -> None:
        """Both contacts are over and forgotten; she lies where she lay."""
        guest = self.scene.guest
        guest.pull(LOCKER, "down")  # as each power on, all contacts were open
        self.scene.wires()
        self.scene.feed.north_m = self.scene.feed.goal_m = 90.0

        def over() -> bool:
            standing = guest.standing()
            for name in contacts & set(standing):
                if standing[name] == "rectified-unacknowledged":
                    guest.ask("ack", id=name)
            return not contacts & set(guest.standing())

        guest.until("the contacts are over", over)


def cuts(installed: Path, count: int, **how: Any) -> None:
    with Scene(installed, **how) as scene:
        scene.drags()
        done = Cuts(scene, random.Random(7))
        for number in range(1, count + 1):
            done.one(number)
        ok(f"{count} power cuts, no alert lost; {done.acknowledged} acknowledgements kept; of the "
           f"alerts of the last second {done.told_before} were told before and again, "
           f"{done.told_after} only after, {done.never} to nobody")  # fmt: skip


def clock(installed: Path) -> None:
    """No real-time clock, no network: the watch is kept, and calls."""
    with Scene(installed, cache="unsafe", rtc="2000-01-01T00:00:00") as scene:
        ok(f"the machine thinks it is {scene.vm.sh('date -Is')}")
        ok(f"a drag sounds {scene.drags():.0f} s after, without a clock")
        now = datetime.now(UTC)
        rows = scene.guest.ask("alerts")["data"]["alerts"]
        (at,) = [row["raised"] for row in rows if row["id"] == "drag"]
        off_s = abs((now - datetime.fromisoformat(at)).total_seconds())
        assert off_s < 120.0, (at, now)
        ok(f"and its time is the receiver's: {at}")
        # The clock starts anew from 2000: the time before the cut is later than the time after.
        Cuts(scene, random.Random(8)).one(1)


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("parts", nargs="*")
    parser.add_argument("--cuts", type=int, default=20)
    said = parser.parse_args()
    if not rig_there():
        print(f"skipped: no rig in {RIG}; SHIPKEEPER_RIG names its folder")
        return 0
    if os.geteuid():
        print("skipped: the rig wants root")
        return 0
    parts: dict[str, Callable[[Path], None]] = {
        "lines": lines,
        "serial": serial,
        "restart": restart,
        "down": down,
        "cuts": lambda where: cuts(where, said.cuts, cache="writethrough"),
        "lossy": lambda where: cuts(where, said.cuts, lossy=True, seed=1),
        "clock": clock,
    }
    wanted = said.parts or ["install", *parts]
    unknown = set(wanted) - {"install", *parts}
    if unknown:
        print(f"no such part: {', '.join(sorted(unknown))}; there are install, {', '.join(parts)}")
        return 2
    base = image()
    installed = WORK / "installed"
    if "install" in wanted or not (installed / "root.img").exists():
        installed = install(base)
    failed = []
    for name in wanted:
        if name == "install":
            continue
        print(f"-- {name}", flush=True)
        try:
            parts[name](installed)
        except (AssertionError, RuntimeError, TimeoutError, ConnectionError) as error:
            failed.append(name)
            print(f"   FAILED {name}: {error}", flush=True)
    print("all parts hold" if not failed else f"failed: {', '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
