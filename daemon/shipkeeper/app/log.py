"""What the daemon says of itself, to standard error: systemd's journal gives it a stamp."""

from __future__ import annotations

import sys
import threading

_LOCK = threading.Lock()


def log(text: str) -> None:
    """One remark, a line or more. Control characters never reach the terminal."""
    clean = "".join(c if c.isprintable() or c == "\n" else "?" for c in text)
    with _LOCK:
        sys.stderr.write(clean.rstrip("\n") + "\n")
        sys.stderr.flush()
