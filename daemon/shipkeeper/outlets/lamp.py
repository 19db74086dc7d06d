"""A lamp on a GPIO line: flashes for what nobody has acknowledged, then stands, then goes out.

Light and sound use one code. It is refreshed like the buzzer; when that stops while something
was watched, it goes to the slow light of a watch that cannot see.
"""

from __future__ import annotations

import threading
import time
from typing import ClassVar, Literal

from ..words.effects import Show, Wanted
from ..words.orders import OutletTable
from ..words.wires import LevelOutlet, SecretReader
from .gpio import LineVoice, Pin
from .patterns import lit
from .sounder import LONGEST_WAIT_S, STALLED_S, Voice


class LampOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`lamp = { chip = "/dev/gpiochip0", line = 27 }`"""

    kind: ClassVar[str] = "lamp"
    sort: ClassVar[Literal["edge", "level"]] = "level"

    lamp: Pin

    def open(self, secret: SecretReader) -> LevelOutlet:
        pin = self.lamp
        return Lamp(self.name, LineVoice(pin.chip, pin.line, pin.active, "shipkeeper lamp"))


class Lamp:
    """LevelOutlet of words.wires over something that can be on or off."""

    def __init__(self, name: str, wire: Voice) -> None:
        self._wire = wire
        self._wake = threading.Condition()
        self._lamp, self._began = "off", time.monotonic()
        self._refreshed, self._watching = time.monotonic(), False
        self._closed = False
        self.ticks = 0
        self.fault = ""  # why it died, when it has
        self._thread = threading.Thread(target=self._live, name=f"lamp {name}", daemon=True)
        self._thread.start()

    def show(self, wanted: Wanted, state: Show) -> None:
        """Leave word of the light wanted. Raises OSError once the wire has been lost."""
        with self._wake:
            if self.fault:
                raise OSError(self.fault)
            self._refreshed, self._watching = time.monotonic(), state.watching
            self._turn(wanted.lamp)

    def close(self) -> None:
        with self._wake:
            self._closed = True
            self._wake.notify()
        self._thread.join(1.0)

    def _turn(self, lamp: str) -> None:
        if lamp != self._lamp:
            self._lamp, self._began = lamp, time.monotonic()
            self._wake.notify()

    def _live(self) -> None:
        try:
            self._shine()
            self._wire.tone(0)
            self._wire.close()
        except (OSError, ValueError) as error:
            self.fault = f"lamp lost: {getattr(error, 'strerror', None) or error}"

    def _shine(self) -> None:
        shining = False
        while True:
            with self._wake:
                if self._closed:
                    return
                now = time.monotonic()
                if self._watching and now - self._refreshed > STALLED_S and self._lamp != "flash":
                    self._turn("slow")
                on, wait_s = lit(self._lamp, now - self._began)
                if on == shining:
                    self.ticks += 1
                    self._wake.wait(min(wait_s, LONGEST_WAIT_S))
                    continue
            shining = on
            self._wire.tone(int(on))
