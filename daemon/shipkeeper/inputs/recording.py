"""A recording as an input: played by its own stamps, at any pace."""

from __future__ import annotations

import gzip
import io
import re
import threading
import time
from pathlib import Path
from typing import IO, Annotated, ClassVar

from ..words.orders import InputTable, Number
from ..words.wires import InputSink, InputWorker

STEADY_LINES_S = 10.0  # lines a second where a log has no stamps
_STAMP = re.compile(r"\\[^\\]*?c:(\d+(?:\.\d+)?)[,*]")


class RecordingInput(InputTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`recording = "night.nmea"`, `pace = 1`."""

    kind: ClassVar[str] = "recording"

    recording: str
    pace: Annotated[float, Number(0.01, 100_000)] = 1.0

    def worker(self) -> InputWorker:
        return RecordingWorker(Path(self.recording), self.pace)


class RecordingWorker:
    """Plays the file once, then says that it is at its end."""

    def __init__(self, path: Path, pace: float) -> None:
        self._path, self._pace = path, pace

    def run(self, sink: InputSink, stop: threading.Event) -> None:
        try:
            lines = self._open()
        except OSError as error:
            sink.news(False, f"{self._path} cannot be read: {error.strerror}")
            stop.wait()
            return
        sink.news(True)
        with lines:
            self._play(lines, sink, stop)
        if not stop.is_set():
            sink.news(False, "the recording is at its end")
            stop.wait()

    def _open(self) -> IO[str]:
        with self._path.open("rb") as file:
            packed = file.read(2) == b"\x1f\x8b"
        if packed:
            return io.TextIOWrapper(gzip.open(self._path, "rb"), encoding="latin-1")
        return self._path.open(encoding="latin-1")

    def _play(self, lines: IO[str], sink: InputSink, stop: threading.Event) -> None:
        began = time.monotonic()
        first_s: float | None = None
        count = 0
        for line in lines:
            if line.startswith("#"):
                continue
            count += 1
            stamp_s = _stamp(line)
            if stamp_s is not None:
                first_s = stamp_s if first_s is None else first_s
                due_s = (stamp_s - first_s) / self._pace
            else:
                due_s = count / STEADY_LINES_S / self._pace if first_s is None else 0.0
            wait_s = began + due_s - time.monotonic()
            if wait_s > 0 and stop.wait(wait_s):
                return
            sink.data(line.rstrip("\r\n").encode("latin-1") + b"\r\n")
            if stop.is_set():
                return


def _stamp(line: str) -> float | None:
    match = _STAMP.match(line)
    if match is None:
        return None
    value = float(match[1])
    return value / 1000 if value > 1e11 else value
