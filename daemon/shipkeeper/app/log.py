"""What the daemon says of itself, to standard error: systemd's journal gives it a stamp.

Whoever reads it may have stopped (a terminal on hold, a remote one whose link hangs) or be gone.
The watch neither waits for that nor dies of it: what is not taken is let go and counted.
"""

from __future__ import annotations

import contextlib
import select
import sys
import threading

PATIENCE_S = 0.2  # once; until it is taken again nothing is waited for
MOST = 1000  # characters of a line: a pipe with any room takes 4,096 bytes at once

_LOCK = threading.Lock()
_untold = 0  # lines that nobody took


def log(text: str) -> None:
    """One remark, a line or more. Control characters never reach the terminal."""
    clean = "".join(c if c.isprintable() or c == "\n" else "?" for c in text)
    with _LOCK:
        for line in clean.rstrip("\n").split("\n"):
            _write(line[:MOST])


def _write(line: str) -> None:
    global _untold  # there is one standard error
    if not _takes(0.0 if _untold else PATIENCE_S):
        _untold += 1
        return
    if _untold:
        line, _untold = f"({_untold} lines of log were not taken)\n{line}", 0
    with contextlib.suppress(OSError, ValueError):
        sys.stderr.write(line + "\n")
        sys.stderr.flush()


def _takes(within_s: float) -> bool:
    """Whether a write would not be waited for; True also when it would fail at once."""
    try:
        poll = select.poll()
        poll.register(sys.stderr.fileno(), select.POLLOUT)
        return bool(poll.poll(within_s * 1000))
    except (OSError, ValueError, AttributeError):
        return True  # no file, or closed
