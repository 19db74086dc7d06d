"""A go-between on loopback, in front of a receiver: passes on, hangs, refuses, drips or loses."""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
import time
from typing import Literal

from .closing import Closing

Manner = Literal["pass", "hang", "refuse", "drip", "lose", "swallow"]
DRIP_S = 1.0


class Between(Closing):
    """TCP to `port`. `manner` may be changed while it runs, also for lines that stand:

    'pass'     as if it were not there;
    'hang'     takes what comes and neither passes it on nor answers;
    'refuse'   breaks each line at once;
    'drip'     one byte a second, each way;
    'lose'     passes on what comes, and breaks the line before the answer;
    'swallow'  as 'hang', but an end of the line is answered with one: a receiver that lied.
    """

    def __init__(self, port: int) -> None:
        self.manner: Manner = "pass"
        self._to = port
        self._over = threading.Event()
        self._lines: list[socket.socket] = []
        self._broken: set[int] = set()  # lines that nobody is to end in order any more
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self._carriers: list[threading.Thread] = []
        self._thread = threading.Thread(target=self._accept, daemon=True)
        self._thread.start()

    def turn(self, manner: Manner) -> None:
        """From now on so; lines that stand are broken, so that new ones show it too."""
        self.hang_up()  # what a line took in the old manner stays in the old manner
        self.manner = manner
        self.hang_up()  # lines that came in between

    def hang_up(self) -> None:
        """Break what stands. The kernel ends a line when its last reader has left it, so that is
        waited for: whoever writes after this finds it broken."""
        lines, self._lines = self._lines, []
        carriers, self._carriers = self._carriers, []
        self._broken.update(map(id, lines))
        for line in lines:
            _break(line)
        for thread in carriers:
            thread.join(5.0)

    def close(self) -> None:
        self._over.set()
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._thread.join(5.0)
        self.hang_up()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                if self.manner == "refuse":
                    _break(near)
                    continue
                far = socket.create_connection(("127.0.0.1", self._to), timeout=10.0)
                far.settimeout(None)
                self._broken -= {id(near), id(far)}
                self._lines += [near, far]
                for one, other, answers in ((near, far, False), (far, near, True)):
                    carrier = threading.Thread(
                        target=self._carry, args=(one, other, answers), daemon=True
                    )
                    carrier.start()
                    self._carriers.append(carrier)

    def _carry(self, one: socket.socket, other: socket.socket, answers: bool) -> None:
        with contextlib.suppress(OSError):
            while True:
                data = one.recv(1 if self.manner == "drip" else 65_536)
                if not data:
                    break
                if self.manner in ("hang", "swallow"):
                    continue
                if self.manner == "drip":
                    self._over.wait(DRIP_S)
                if self.manner == "lose" and answers:
                    break
                other.sendall(data)
        if self.manner == "hang" or id(one) in self._broken:
            return
        if self.manner == "lose":
            time.sleep(0.05)  # what was passed on is read before the line breaks
        for end in (one, other):
            _break(end, gently=self.manner in ("pass", "drip"))


def _break(line: socket.socket, *, gently: bool = False) -> None:
    with contextlib.suppress(OSError):
        if gently:
            line.shutdown(socket.SHUT_RDWR)
        else:
            line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            line.shutdown(socket.SHUT_RD)  # wakes who reads here; the other way would end it well
    line.close()
