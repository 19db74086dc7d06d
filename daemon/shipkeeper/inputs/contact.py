"""Contacts: switches on GPIO lines (bilge float, hatch, shore power), read and told at a change.

The switch is wired between the line and ground with the pull up (the default), or between the
line and supply with the pull down; 'none' is a pull up outside the board. Closed is then what
the line says when the switch makes. The kernel debounces. What cannot be read is told as None,
which is not 'open'.
"""

from __future__ import annotations

import threading
from datetime import timedelta
from typing import Any, Literal

from ..words.wires import ContactSink

LOOK_EVERY = timedelta(seconds=0.5)


class ContactReader:
    """One line. `run` is a thread's body; it raises OSError when the line cannot be had or is
    lost, for the supervisor to try again."""

    def __init__(
        self,
        name: str,
        chip: str,
        line: int,
        pull: Literal["up", "down", "none"],
        debounce_s: float,
    ) -> None:
        self._name, self._chip, self._line = name, chip, line
        self._pull, self._debounce_s = pull, debounce_s

    def run(self, sink: ContactSink, stop: threading.Event) -> None:
        try:
            import gpiod
        except ImportError:
            sink.contact(self._name, None)
            raise OSError(
                "the gpio extra is not installed (pip install 'shipkeeper[gpio]')"
            ) from None
        try:
            with gpiod.request_lines(
                self._chip, consumer="shipkeeper contact", config={self._line: self._settings()}
            ) as request:
                self._read(request, gpiod.line.Value.ACTIVE, sink, stop)
        finally:
            if not stop.is_set():
                sink.contact(self._name, None)

    def _settings(self) -> Any:
        import gpiod

        bias = {
            "up": gpiod.line.Bias.PULL_UP,
            "down": gpiod.line.Bias.PULL_DOWN,
            "none": gpiod.line.Bias.AS_IS,
        }[self._pull]
        return gpiod.LineSettings(
            direction=gpiod.line.Direction.INPUT,
            edge_detection=gpiod.line.Edge.BOTH,
            bias=bias,
            active_low=self._pull != "down",
            debounce_period=timedelta(seconds=self._debounce_s),
        )

    def _read(self, request: Any, active: Any, sink: ContactSink, stop: threading.Event) -> None:
        """The level is read after every edge: an edge that was missed cannot mislead."""
        told: bool | None = None
        while not stop.is_set():
            closed = request.get_value(self._line) is active
            if closed != told:
                told = closed
                sink.contact(self._name, closed)
            if request.wait_edge_events(LOOK_EVERY):
                request.read_edge_events()
