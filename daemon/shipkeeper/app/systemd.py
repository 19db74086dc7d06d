"""Talk to systemd: ready, alive, status, stopping (sd_notify's datagram protocol).

`WATCHDOG=1` goes out at half the interval and only while the engine, the sounder and the
store each made progress; see app/health.py. Without NOTIFY_SOCKET all this does nothing.
"""

from __future__ import annotations

import os
import socket

AFRESH_WITHIN_S = 60.0


class Notifier:
    """Sends datagrams to the socket named in the environment."""

    def __init__(self, address: str | None = None, watchdog_usec: str | None = None) -> None:
        self._address = os.environ.get("NOTIFY_SOCKET", "") if address is None else address
        text = os.environ.get("WATCHDOG_USEC", "") if watchdog_usec is None else watchdog_usec
        self.watchdog_s = int(text) / 1e6 if text.isdigit() and int(text) > 0 else None

    def ready(self, status: str) -> None:
        text = f"READY=1\nSTATUS={_one_line(status)}"
        if self.watchdog_s is not None:
            text += f"\nWATCHDOG_USEC={self.watchdog_s * 1e6:.0f}"  # see starting_afresh
        self._send(text)

    def starting_afresh(self) -> None:
        """The program is about to load itself anew, as the same process: a slow board may
        need longer for that than the watchdog would wait."""
        self._send(f"WATCHDOG_USEC={AFRESH_WITHIN_S * 1e6:.0f}\nWATCHDOG=1")

    def status(self, status: str) -> None:
        self._send(f"STATUS={_one_line(status)}")

    def alive(self) -> None:
        self._send("WATCHDOG=1")

    def stopping(self) -> None:
        self._send("STOPPING=1")

    def _send(self, text: str) -> None:
        if not self._address:
            return
        address = self._address
        if address.startswith("@"):
            address = "\0" + address[1:]  # Linux's abstract namespace
        try:
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM | socket.SOCK_CLOEXEC) as out:
                out.settimeout(1.0)
                out.sendto(text.encode(), address)
        except OSError:
            # Nobody to tell; systemd's own watchdog then does what it must.
            return


def _one_line(text: str) -> str:
    return " ".join(text.split())
