"""Serial ports: any baud, a device that vanishes and comes back."""

from __future__ import annotations

import errno
import os
import threading
from typing import Annotated, ClassVar

from ..words.orders import InputTable, Number
from ..words.wires import InputSink, InputWorker
from .backoff import Backoff

READ_WAIT_S = 0.5


class SerialInput(InputTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`serial = "/dev/serial/by-id/..."`, `baud = 4800`."""

    kind: ClassVar[str] = "serial"

    serial: str
    baud: Annotated[int, Number(300, 921_600)] = 4800

    def worker(self) -> InputWorker:
        return SerialWorker(self.serial, self.baud)


class SerialWorker:
    """Opens the port, reads, and opens it again when it has gone."""

    def __init__(self, path: str, baud: int) -> None:
        self._path, self._baud = path, baud

    def run(self, sink: InputSink, stop: threading.Event) -> None:
        import serial

        backoff = Backoff(most_s=5.0)
        while not stop.is_set():
            try:
                port = serial.Serial(self._path, self._baud, timeout=READ_WAIT_S)
            except (serial.SerialException, OSError, ValueError) as error:
                sink.news(False, f"{self._path} cannot be opened: {_why(error)}")
                backoff.wait(stop)
                continue
            with port:
                sink.news(True)
                backoff.reset()
                try:
                    while not stop.is_set():
                        chunk = port.read(port.in_waiting or 1)
                        if chunk:
                            sink.data(chunk)
                except (serial.SerialException, OSError) as error:
                    sink.news(False, f"{self._path} is gone: {_why(error)}")
            if not stop.is_set():
                backoff.wait(stop)


def _why(error: Exception) -> str:
    """In the system's own words, where it has any: those of the library name the port again."""
    number = getattr(error, "errno", None)
    if number in (errno.EAGAIN, errno.EBUSY) or "exclusively lock" in str(error):
        return "another program has it"
    if isinstance(number, int):
        return os.strerror(number)
    if "readiness" in str(error):
        return "it gives no more data"
    return str(error).partition("\n")[0][:120]
