"""A small disk in memory that can be filled, turn read-only, and be well again. Needs root."""

from __future__ import annotations

import contextlib
import subprocess
from pathlib import Path

from .closing import Closing

BLOCK = 4096


class NoRight(Exception):
    """Nothing may be mounted here."""


class SmallDisk(Closing):
    """A tmpfs at `path`, which is made. Raises NoRight."""

    def __init__(self, path: Path, size: str) -> None:
        self.path = path
        path.mkdir()
        made = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(path)],
            capture_output=True, check=False, text=True,
        )  # fmt: skip
        if made.returncode != 0:
            raise NoRight(made.stderr.strip())

    def fill(self) -> None:
        """Not one block more, until `empty`."""
        with contextlib.suppress(OSError), self._ballast.open("ab", buffering=0) as file:
            while True:
                file.write(b"x" * BLOCK)

    def empty(self) -> None:
        self._ballast.unlink(missing_ok=True)

    def grow(self, size: str) -> None:
        self._remount(f"size={size}")

    def read_only(self) -> None:
        """As a worn card does it; but that asks nobody, and this is refused while a file is open
        for writing."""
        self._remount("ro")

    def writable(self) -> None:
        self._remount("rw")

    def close(self) -> None:
        subprocess.run(["umount", "-l", str(self.path)], check=False, capture_output=True)

    @property
    def _ballast(self) -> Path:
        return self.path / "ballast"

    def _remount(self, option: str) -> None:
        subprocess.run(["mount", "-o", f"remount,{option}", str(self.path)], check=True)
