"""Output lines of the board: on and off through the kernel's GPIO character device, or a tone
from its hardware PWM.

Both raise OSError when the line is not there or is lost, for the supervisor. gpiod is the
extra `gpio` and is imported only where a line is opened.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec

from ..words.orders import Number

NS_PER_S = 1_000_000_000


class Pin(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where something is wired."""

    chip: str = "/dev/gpiochip0"
    line: Annotated[int, Number(0, 511)]
    active: Literal["high", "low"] = "high"


class LineVoice:
    """One output line. Raises OSError when there is no such line."""

    def __init__(self, chip: str, line: int, active: str, consumer: str) -> None:
        try:
            import gpiod
        except ImportError:
            raise OSError(
                "the gpio extra is not installed (pip install 'shipkeeper[gpio]')"
            ) from None
        self._gpiod: Any = gpiod
        self._line = line
        settings = gpiod.LineSettings(
            direction=gpiod.line.Direction.OUTPUT,
            output_value=gpiod.line.Value.INACTIVE,
            active_low=active == "low",
        )
        self._request = gpiod.request_lines(chip, consumer=consumer, config={line: settings})

    def tone(self, hz: int) -> None:
        value = self._gpiod.line.Value
        self._request.set_value(self._line, value.ACTIVE if hz else value.INACTIVE)

    def pattern(self, name: str, text: str) -> None:
        return None

    def close(self) -> None:
        self._request.release()


class PwmVoice:
    """A square wave from the kernel's PWM: /sys/class/pwm/pwmchip0/pwm0.

    A channel that is newly exported has no period, and many kernels refuse anything else that is
    written before it; all refuse a duty longer than the period. So the period comes first, and
    where what another program left there forbids it, the duty goes to nothing before.
    """

    def __init__(self, channel: Path) -> None:
        self._channel = channel
        if not channel.exists():
            number = channel.name.removeprefix("pwm")
            (channel.parent / "export").write_text(number)
        if (channel / "enable").read_text().strip() != "0":
            self._write("enable", 0)

    def tone(self, hz: int) -> None:
        if not hz:
            if (self._channel / "enable").read_text().strip() != "0":
                self._write("enable", 0)
            return
        period_ns = NS_PER_S // hz
        try:
            self._write("period", period_ns)
        except OSError:
            self._write("duty_cycle", 0)
            self._write("period", period_ns)
        self._write("duty_cycle", period_ns // 2)
        self._write("enable", 1)

    def pattern(self, name: str, text: str) -> None:
        return None

    def close(self) -> None:
        return None

    def _write(self, name: str, value: int) -> None:
        (self._channel / name).write_text(str(value))
