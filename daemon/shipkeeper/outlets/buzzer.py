"""A buzzer on the board: an active sounder on a GPIO line, or a speaker on a PWM channel.

A line is only switched on and off, so an active sounder keeps its own pitch, mostly too high
to wake a sleeper. A passive sounder or speaker on the board's PWM gets the 520 Hz square wave
that wakes best.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, ClassVar, Literal

import msgspec

from ..words.orders import Number, OutletTable
from ..words.wires import LevelOutlet, SecretReader
from .gpio import LineVoice, PwmVoice
from .sounder import Sounder, Voice


class BuzzerPin(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where the buzzer is wired: a line, or a PWM channel."""

    chip: str = "/dev/gpiochip0"
    line: Annotated[int, Number(0, 511)] | None = None
    active: Literal["high", "low"] = "high"
    pwm: str = ""  # "/sys/class/pwm/pwmchip0/pwm0"


class BuzzerOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`buzzer = { chip = "/dev/gpiochip0", line = 17 }`"""

    kind: ClassVar[str] = "buzzer"
    sort: ClassVar[Literal["edge", "level"]] = "level"

    buzzer: BuzzerPin

    def problems(self) -> list[tuple[str, str]]:
        if (self.buzzer.line is None) == (not self.buzzer.pwm):
            return [("buzzer", "expected either line (a GPIO line) or pwm (a PWM channel's path)")]
        return []

    def explain(self) -> list[str]:
        if self.buzzer.pwm:
            return [f"sounds a 520 Hz square wave on {self.buzzer.pwm}"]
        return [f"switches {self.buzzer.chip} line {self.buzzer.line}, active {self.buzzer.active}"]

    def open(self, secret: SecretReader) -> LevelOutlet:
        return Sounder(self.name, self._voice())

    def _voice(self) -> Voice:
        pin = self.buzzer
        if pin.line is None:
            return PwmVoice(Path(pin.pwm))
        return LineVoice(pin.chip, pin.line, pin.active, "shipkeeper buzzer")
