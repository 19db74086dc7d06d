"""Between a process and its disk (shim.c, by LD_PRELOAD): nothing in the product knows of it.

`counted` kills the process at its n-th operation on files below a folder (write, sync, truncate,
rename, unlink; the log's shared memory is none): before it, in the midst of a write, or after it.
`logged` writes down every one of them, and `as_left` then makes the folder as a machine leaves it
that dies at one of them: what was synced is there, of the rest any part, in any order, torn.
`sick` makes each sync wait, or every write fail, while a file says so. Wants a C compiler
(Debian's gcc and libc6-dev; CI installs them).
"""

from __future__ import annotations

import ctypes
import functools
import random
import shutil
import struct
import subprocess
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

SOURCE = Path(__file__).with_name("shim.c")
HEAD = struct.Struct("=c7xdqqii")
SECTOR = 512  # what a disk writes whole
How = Literal["before", "torn", "after"]


@functools.cache
def shim() -> Path:
    """The library, compiled once in each run."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    assert compiler, "a C compiler is needed (Debian packages gcc and libc6-dev); CI installs it"
    made = Path(tempfile.mkdtemp(prefix="shipkeeper-shim-")) / "shim.so"
    subprocess.run(
        [compiler, "-O1", "-shared", "-fPIC", "-o", str(made), str(SOURCE), "-ldl", "-lpthread"],
        check=True,
    )
    return made


def counted(folder: Path, at: int, how: How = "before") -> dict[str, str]:
    """Environment of a process that dies at its operation number `at`, from 1."""
    return {**_plain(folder), "DISK_KILL_AT": str(at), "DISK_KILL_HOW": how}


def count_anew(at: int) -> None:
    """In a child of a process with `counted`: it dies at its own operation number `at`."""
    ctypes.CDLL(None).disk_kill_at(ctypes.c_long(at))


def logged(folder: Path, log: Path) -> dict[str, str]:
    """Environment of a process that writes its operations to `log`."""
    return {**_plain(folder), "DISK_LOG": str(log)}


@dataclass(frozen=True)
class Sick:
    """`environment` of a process whose disk is well until it is told otherwise."""

    environment: dict[str, str]
    stall: Path
    fail: Path

    def stalls(self, seconds: float) -> None:
        """From now on each sync waits so long."""
        self.stall.write_text(str(seconds))

    def fails(self, why: int) -> None:
        """From now on nothing can be written: errno.EROFS, ENOSPC, EIO."""
        part = self.fail.with_suffix(".part")
        part.write_text(str(why))
        part.rename(self.fail)

    def well(self) -> None:
        self.stall.unlink(missing_ok=True)
        self.fail.unlink(missing_ok=True)


def sick(folder: Path, beside: Path) -> Sick:
    """A disk for what is below `folder`; what it is told stands in files of the folder `beside`."""
    stall, fail = beside / "disk-stalls", beside / "disk-fails"
    environment = {"DISK_STALL": str(stall), "DISK_FAIL": str(fail)}
    return Sick({**_plain(folder), **environment}, stall, fail)


def _plain(folder: Path) -> dict[str, str]:
    return {"LD_PRELOAD": str(shim()), "DISK_FOLDER": str(folder)}


@dataclass(frozen=True)
class Operation:
    """One thing done to a file. at_s: time.monotonic() when it was begun."""

    kind: str  # w write, s sync, t truncate, r rename, u unlink
    at_s: float
    name: str  # below the folder
    other: str  # the new name, of a rename
    offset: int
    data: bytes


def operations(log: Path, folder: Path) -> list[Operation]:
    """What a log holds; one that was cut off at the end is left out."""
    raw, at, found = log.read_bytes(), 0, []
    while at + HEAD.size <= len(raw):
        kind, at_s, offset, length, name_len, other_len = HEAD.unpack_from(raw, at)
        at += HEAD.size
        name, at = raw[at : at + name_len].decode(), at + name_len
        other, at = raw[at : at + other_len].decode(), at + other_len
        data, at = raw[at : at + length], at + length
        if at > len(raw):
            break
        below = str(folder) + "/"
        name, other = name.removeprefix(below), other.removeprefix(below)
        found.append(Operation(kind.decode(), at_s, name, other, offset, data))
    return found


class _File:
    """One file as the disk has it and as the programs see it."""

    def __init__(self) -> None:
        self.safe = bytearray()  # synced
        self.seen = bytearray()
        self.loose: list[Operation] = []  # since the last sync

    def do(self, op: Operation) -> None:
        _done(self.seen, op)
        self.loose.append(op)

    def sync(self) -> None:
        self.safe = bytearray(self.seen)
        self.loose = []

    def torn(self, dice: random.Random) -> bytes:
        """What is synced, and of the rest any part: each sector got there or did not, and one
        in a while holds neither the old nor the new."""
        left = bytearray(self.safe)
        share = dice.choice((0.0, 0.5, 1.0))
        for op in self.loose:
            if op.kind == "t":
                if dice.random() < share:
                    _done(left, op)
                continue
            for at in range(0, len(op.data), SECTOR):
                if dice.random() < share:
                    part = op.data[at : at + SECTOR]
                    if dice.random() < 0.05:
                        part = dice.randbytes(len(part))
                    _written(left, op.offset + at, part)
        return bytes(left)


def as_left(ops: Sequence[Operation], to: Path, dice: random.Random) -> None:
    """Make the folder `to` as a machine leaves it that dies after these operations. Names are
    taken to be kept in order, as file systems with a journal do it."""
    files: dict[str, _File] = {}
    for op in ops:
        if op.kind == "r":
            if op.name in files:
                files[op.other] = files.pop(op.name)
        elif op.kind == "u":
            files.pop(op.name, None)
        elif op.kind == "s":
            if op.name in files:
                files[op.name].sync()
        else:
            files.setdefault(op.name, _File()).do(op)
    for name, file in files.items():
        path = to / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(file.torn(dice))


def _done(content: bytearray, op: Operation) -> None:
    if op.kind == "t":
        del content[op.offset :]
        content.extend(b"\0" * (op.offset - len(content)))
    else:
        _written(content, op.offset, op.data)


def _written(content: bytearray, offset: int, data: bytes) -> None:
    content.extend(b"\0" * (offset - len(content)))
    content[offset : offset + len(data)] = data
