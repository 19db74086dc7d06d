"""Follows the README's first steps to the letter in a clean Debian root, and uninstalls.

Usage: python -m tests.packaging.readme_followed [--suite trixie] [--root BASE.tar]

As root; wants mmdebstrap. Debian 12 (bookworm) unless said otherwise; trixie is Debian 13.

The commands and the orders are taken out of README.md as they stand there; only the address of
the boat's server becomes that of a server of fixes on loopback. Wheels are fetched beforehand,
so that nothing in the root asks the network. Then systemd/install and --uninstall the same way.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

from demo import sentences
from tests.peers import SentenceServer

ROOT = Path(__file__).parents[2]
SOURCES = Path("/etc/apt/sources.list.d/debian.sources")  # of this machine, a bookworm
SECTION = "## First alarm on a boat in ten minutes"


def section() -> str:
    text = (ROOT / "README.md").read_text("utf-8")
    return text[text.index(SECTION) :].split("\n## ", 1)[0]


def block(kind: str) -> str:
    """The first code block of that kind in the section, without its indentation."""
    match = re.search(rf"```{kind}\n(.*?)```", section(), re.DOTALL)
    assert match is not None, kind
    return re.sub(r"^ {3}", "", match[1], flags=re.MULTILINE)


def said(start: str) -> str:
    """A command of the section that begins so, as it stands there, on one line."""
    match = re.search(rf"`({re.escape(start)}[^`]*)`", section())
    assert match is not None, f"the README no longer says {start}"
    return " ".join(match[1].split())


class Root:
    """A clean Debian in a folder."""

    def __init__(self, base: Path, folder: Path) -> None:
        self.folder = folder
        folder.mkdir()
        subprocess.run(["tar", "-xf", str(base), "-C", str(folder)], check=True)
        subprocess.run(
            ["git", "clone", "-q", str(ROOT), str(folder / "root" / "clone")], check=True
        )
        wheels = folder / "wheels"
        wheels.mkdir()
        platforms = [f"--platform=manylinux{n}_x86_64" for n in ("2014", "_2_17", "_2_28")]
        pip = [sys.executable, "-m", "pip", "--quiet", "--disable-pip-version-check"]
        subprocess.run(
            [*pip, "wheel", "--no-deps", "-w", str(wheels), str(folder / "root" / "clone")],
            check=True,
        )
        subprocess.run(
            [*pip, "download", "-d", str(wheels), "--only-binary=:all:", "--implementation=cp",
             f"--python-version={self._python()}", *platforms,
             f"{next(wheels.glob('ship*'))}[gpio,terminal]", "setuptools>=77", "wheel"], check=True,
        )  # fmt: skip

    def _python(self) -> str:
        """'3.11', or what Debian has there."""
        target = (self.folder / "usr/bin/python3").readlink().name
        return target.removeprefix("python")

    def start(self, script: str) -> subprocess.Popen[str]:
        environment = {
            "PATH": "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin",
            "HOME": "/root", "LANG": "C.UTF-8", "PIP_NO_INDEX": "1", "PIP_FIND_LINKS": "/wheels",
        }  # fmt: skip
        return subprocess.Popen(
            ["chroot", str(self.folder), "/bin/bash", "-ec", f"cd /root/clone\n{script}"],
            env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        )  # fmt: skip

    def run(self, script: str, codes: tuple[int, ...] = (0,)) -> str:
        process = self.start(script)
        out = process.communicate(timeout=600)[0]
        print("\n".join(f"    {line}" for line in [f"$ {script.strip()}", *out.splitlines()][:14]))
        assert process.returncode in codes, f"{script!r} ended with {process.returncode}: {out}"
        return out

    def files(self) -> set[str]:
        """What an installation may touch."""
        found = set()
        for top in ("etc", "opt", "usr/local", "var/lib", "run"):
            found |= {str(p.relative_to(self.folder)) for p in (self.folder / top).rglob("*")}
        return found


def follow(root: Root) -> None:
    with SentenceServer() as server:
        stop = threading.Event()

        def fixes() -> None:
            while not stop.wait(1.0):
                now = time.time()
                lines = [sentences.rmc(now, 57.1, -5.2, 0.1, 90.0),
                         sentences.gga(now, 57.1, -5.2, 0.9)]  # fmt: skip
                server.send("".join(f"{line}\r\n" for line in lines).encode())

        thread = threading.Thread(target=fixes)
        thread.start()
        try:
            _first_alarm(root, server.port)
        finally:
            stop.set()
            thread.join()


def _first_alarm(root: Root, port: int) -> None:
    install = block("sh")
    root.run(install)
    (venv,) = re.findall(r"^\. (\S+)", install, re.MULTILINE)
    activate = f". {venv}\n"
    orders = block("toml").replace("192.0.2.10:10110", f"127.0.0.1:{port}")
    (root.folder / "root" / "clone" / "orders.toml").write_text(orders, "utf-8")
    told = root.run(activate + said("shipkeeper check"), (0, 1))
    assert "2 warnings" in told, "the README says two"
    daemon = root.start(activate + "exec " + said("shipkeeper watch"))
    printed: list[str] = []
    assert daemon.stdout is not None
    stream = daemon.stdout
    reader = threading.Thread(target=lambda: printed.extend(stream))
    reader.start()
    try:
        edge_s = time.monotonic() + 60.0
        while "position" not in "".join(printed) and time.monotonic() < edge_s:
            time.sleep(0.5)
            if root.start(activate + "shipkeeper status >/dev/null 2>&1").wait() in (0, 1):
                break
        time.sleep(3.0)  # some fixes
        swing = root.run(activate + said("shipkeeper anchor here --rode"), (0, 1))
        assert "a circle of 45 m" in swing, "the README says so"
        away = said("shipkeeper anchor at").replace("LAT,LON", "57.1009,-5.2")
        root.run(activate + away, (0, 1))
        edge_s = time.monotonic() + 60.0
        while "ANCHOR DRAGS" not in "".join(printed):
            assert time.monotonic() < edge_s, f"no alarm: {''.join(printed)}"
            time.sleep(0.2)
        print("    the terminal shows: "
              + next(line.strip() for line in printed if "ANCHOR DRAGS" in line))  # fmt: skip
        root.run(activate + said("shipkeeper ack"))
        root.run(activate + "shipkeeper anchor here", (0, 1))
    finally:
        daemon.terminate()
        daemon.wait(20.0)
        reader.join(5.0)


def for_good(root: Root) -> None:
    """As a service, and away again: what is left is what the script says."""
    before = root.files()
    root.run("systemd/install --wheels /wheels --extras gpio,terminal")
    root.run("shipkeeper --version && man -w shipkeeper 2>/dev/null || true")
    (root.folder / "etc/shipkeeper/orders.toml").write_text(
        (ROOT / "config" / "orders.toml").read_text("utf-8"), "utf-8"
    )
    root.run("systemd/install --wheels /wheels --extras gpio,terminal")  # an update
    assert (
        root.folder / "etc/systemd/system/multi-user.target.wants/shipkeeper.service"
    ).is_symlink()
    root.run("systemd/install --uninstall")
    left = {name for name in root.files() - before if not (root.folder / name).is_dir()}
    kept = ("etc/shipkeeper/", "etc/group", "etc/passwd", "etc/shadow", "etc/gshadow", "etc/sub")
    extra = sorted(name for name in left if not name.startswith(kept))
    assert extra == [], extra
    assert "etc/shipkeeper/orders.toml" in left
    print(f"    left behind: {len(left)} files, all under /etc/shipkeeper or the user's own lines")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--suite", default="bookworm", help="Debian's name for it")
    parser.add_argument("--root", type=Path, help="a tar of it with python3-venv")
    given, suite = parser.parse_args().root, parser.parse_args().suite
    if os.geteuid():
        print("skipped: a root file system wants root")
        return 0
    with tempfile.TemporaryDirectory() as folder:
        base = given
        if base is None:
            base = Path(folder) / "base.tar"
            sources = Path(folder) / "debian.sources"
            sources.write_text(SOURCES.read_text().replace("bookworm", suite))
            subprocess.run(
                ["mmdebstrap", "--quiet", "--variant=minbase", "--include=python3,python3-venv",
                 suite, str(base), str(sources)], check=True,
            )  # fmt: skip
        root = Root(base, Path(folder) / "root")
        follow(root)
        for_good(root)
    print(f"followed on {suite}: installed, watched, alarmed, acknowledged, uninstalled")
    return 0


if __name__ == "__main__":
    sys.exit(main())
