"""A serial sender with a speed of its own behind a pty, as far as a pty allows.

A pty carries bytes at any speed. But its master can ask which speed the reader has set, and so
the bits of each byte are laid on a line at the sender's speed and sampled at the reader's, as
the two ends of a real line do: at another speed, something else is read.
"""

from __future__ import annotations

import contextlib
import os
import termios
import threading
from collections.abc import Sequence
from pathlib import Path

from .sentences import PtyPair

SPEEDS = {getattr(termios, f"B{n}"): n for n in (4800, 9600, 19200, 38400, 57600, 115200, 230400)}


def as_read(data: bytes, sent_baud: int, read_baud: int) -> bytes:
    """What a receiver makes of it: eight data bits, one stop bit, sampled in the middle."""
    line: list[int] = []
    for byte in data:
        line += [0, *((byte >> bit) & 1 for bit in range(8)), 1]
    step = sent_baud / read_baud
    out = bytearray()
    at = 0.0
    while at < len(line):
        if line[int(at)]:
            at = int(at) + 1.0
            continue
        bits = [line[i] if (i := int(at + (n + 1.5) * step)) < len(line) else 1 for n in range(9)]
        # A stop bit that is none: Linux hands a zero on (termios, IGNPAR and PARMRK not set).
        out.append(sum(bit << n for n, bit in enumerate(bits[:8])) if bits[8] else 0)
        at += 9.5 * step
    return bytes(out)


class Uart(PtyPair):
    """Sends its lines over and over, at its baud, until closed."""

    def __init__(self, link: Path, baud: int, lines: Sequence[str], every_s: float = 0.05) -> None:
        super().__init__(link)
        os.set_blocking(self._master, False)  # a line waits for no reader
        self._baud, self._every_s = baud, every_s
        self._data = "".join(f"{line}\r\n" for line in lines).encode("ascii")
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._run)
        self._thread.start()

    @property
    def read_baud(self) -> int:
        """The speed that the reader has set; 0 for one that we do not know."""
        return SPEEDS.get(termios.tcgetattr(self._master)[4], 0)

    def _run(self) -> None:
        while not self._stop.wait(self._every_s):
            baud = self.read_baud
            heard = self._data if baud == self._baud else b""
            if baud and not heard:
                heard = as_read(self._data, self._baud, baud)
            with contextlib.suppress(BlockingIOError):
                self.send(heard)

    def close(self) -> None:
        self._stop.set()
        self._thread.join(5.0)
        super().close()
