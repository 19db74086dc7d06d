"""app/log.py: whoever reads standard error, or does not, holds up nobody."""

from __future__ import annotations

import fcntl
import os
import pty
import subprocess
import sys
import termios
import time
from pathlib import Path

import pytest

from shipkeeper.app.log import log

ROOT = Path(__file__).parents[3]
SAYS = """
import os, sys, time
from shipkeeper.app.log import log
began = time.monotonic()
for number in range(200):
    log(f"line {number} " + "x" * 200 + chr(10) + "  more")
print(f"{time.monotonic() - began:.1f}", flush=True)
sys.stdin.readline()
log("the last")
os._exit(0)  # as the watch ends
"""


def started(stderr: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", SAYS], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=stderr,
        text=True, cwd=ROOT,
    )  # fmt: skip


def ended(process: subprocess.Popen[str]) -> None:
    """200 remarks took under a second; then it is told to go on."""
    assert process.stdout is not None and process.stdin is not None
    assert float(process.stdout.readline()) < 1.0


def let_go(process: subprocess.Popen[str]) -> None:
    assert process.stdout is not None and process.stdin is not None
    with process:
        process.stdin.write("\n")
        process.stdin.close()
        assert process.wait(30) == 0


def test_a_pipe_that_nobody_reads() -> None:
    """What was not taken is counted, and that is told when it is read again."""
    reading, writing = os.pipe()
    fcntl.fcntl(writing, fcntl.F_SETPIPE_SZ, 4096)
    process = started(writing)
    os.close(writing)
    ended(process)
    first = os.read(reading, 65_536).decode()
    let_go(process)
    rest = b"".join(iter(lambda: os.read(reading, 65_536), b"")).decode().split("\n")
    os.close(reading)
    assert first.startswith("line 0 xxx")
    taken = first.count("\n")
    assert rest == [f"({400 - taken} lines of log were not taken)", "the last", ""]


def test_a_reader_who_is_gone() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    process = started(writing)
    os.close(writing)
    ended(process)
    let_go(process)


def test_a_terminal_on_hold() -> None:
    """As with Ctrl-S; and after it a terminal that is closed."""
    ours, theirs = pty.openpty()
    termios.tcflow(theirs, termios.TCOOFF)
    process = started(theirs)
    ended(process)
    os.close(theirs)
    os.close(ours)
    let_go(process)


def test_control_characters_and_lines(capsys: pytest.CaptureFixture[str]) -> None:
    log("one\n\x1b[2Jtwo\n")
    assert capsys.readouterr().err == "one\n?[2Jtwo\n"
    began_s = time.monotonic()
    log("x" * 10_000)
    assert len(capsys.readouterr().err) == 1001 and time.monotonic() - began_s < 1.0
