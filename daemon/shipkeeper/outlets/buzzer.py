"""A buzzer on a GPIO line, through the kernel's GPIO character device (gpiod, extra `gpio`).

The line is switched on and off; an active sounder needs no more. A passive sounder or speaker
wants a 520 Hz square wave from the board's PWM, which the wiring notes describe.
"""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

import msgspec

from ..words.orders import Number, OutletTable
from ..words.wires import LevelOutlet, SecretReader
from .sounder import Sounder


class Pin(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where the buzzer is wired."""

    chip: str = "/dev/gpiochip0"
    line: Annotated[int, Number(0, 511)]
    active: Literal["high", "low"] = "high"


class BuzzerOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`buzzer = { chip = "/dev/gpiochip0", line = 17 }`"""

    kind: ClassVar[str] = "buzzer"
    sort: ClassVar[Literal["edge", "level"]] = "level"

    buzzer: Pin

    def open(self, secret: SecretReader) -> LevelOutlet:
        return Sounder(self.name, GpioVoice(self.buzzer))


class GpioVoice:
    """One output line. Raises OSError when there is no such line, for the supervisor."""

    def __init__(self, pin: Pin) -> None:
        try:
            import gpiod
        except ImportError:
            raise OSError(
                "the gpio extra is not installed (pip install 'shipkeeper[gpio]')"
            ) from None
        self._gpiod: Any = gpiod
        self._line = pin.line
        settings = gpiod.LineSettings(
            direction=gpiod.line.Direction.OUTPUT, active_low=pin.active == "low"
        )
        self._request = gpiod.request_lines(
            pin.chip, consumer="shipkeeper buzzer", config={pin.line: settings}
        )

    def tone(self, hz: int) -> None:
        value = self._gpiod.line.Value
        self._request.set_value(self._line, value.ACTIVE if hz else value.INACTIVE)

    def pattern(self, name: str, text: str) -> None:
        return None

    def close(self) -> None:
        self._request.release()
