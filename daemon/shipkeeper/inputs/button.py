"""The push button: short silences and answers for the watch, long acknowledges what calls.

Wired as a contact is: to ground with the pull up (the default), or to supply with the pull down.
The kernel debounces. A long press counts while it is still held, so that the click of the buzzer
tells the finger to let go; one that is shorter counts when it is let go. A button that was down
when first looked at, or is down for `STUCK_S`, is stuck: it says nothing, and that is told.
"""

from __future__ import annotations

import threading
import time
from datetime import timedelta
from typing import Annotated, Any, ClassVar, Literal

from msgspec import field

from ..words.orders import Number, Quantity, Table
from ..words.wires import CommandSink

LOOK_EVERY = timedelta(seconds=0.5)
LOOK_WHILE_DOWN = timedelta(seconds=0.05)
STUCK_S = 30.0


class ButtonOrders(Table, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[button]: one push button aboard, where whoever has the watch can reach it."""

    table: ClassVar[str] = "button"
    many: ClassVar[bool] = False

    chip: str = "/dev/gpiochip0"
    line: Annotated[int, Number(0, 511)]
    pull: Literal["up", "down", "none"] = "up"
    debounce_s: Annotated[float, Quantity("time", 0.001, 0.2)] = field(
        default=0.03, name="debounce"
    )
    long_s: Annotated[float, Quantity("time", 0.5, 5.0)] = field(default=1.5, name="long")

    def explain(self) -> list[str]:
        return [
            "pressed shortly: all sound stops for a moment, and the watch is told that you are "
            "there",
            f"held for {self.long_s:g} s: acknowledges the one alert that calls; of several none, "
            "and it sounds three low clicks",
        ]


class Presses:
    """What a finger means: levels and times in, 'short' or 'long' out. Pure."""

    def __init__(self, long_s: float) -> None:
        self._long_s = long_s
        self._down_s: float | None = None  # since when it is down, and not yet told
        self._level: bool | None = None
        self._since_s = 0.0

    def look(self, down: bool, now_s: float) -> Literal["short", "long"] | None:
        """At every edge, and often enough while it is down."""
        if down != self._level:
            first, self._level, self._since_s = self._level is None, down, now_s
            if down:
                self._down_s = None if first else now_s
                return None
        if self._down_s is None:
            return None
        held_s = now_s - self._down_s
        if held_s >= self._long_s:
            self._down_s = None
            return "long"
        if not down:
            self._down_s = None
            return "short"
        return None

    def is_stuck(self, now_s: float) -> bool:
        return bool(self._level) and now_s - self._since_s >= STUCK_S


class ButtonReader:
    """`run` is a thread's body; it raises OSError when the line cannot be had, is lost or the
    button is stuck, for the supervisor to tell and to try again."""

    def __init__(self, orders: ButtonOrders) -> None:
        self._orders = orders

    def run(self, sink: CommandSink, stop: threading.Event) -> None:
        try:
            import gpiod
        except ImportError:
            raise OSError(
                "the gpio extra is not installed (pip install 'shipkeeper[gpio]')"
            ) from None
        orders = self._orders
        try:
            request = gpiod.request_lines(
                orders.chip, consumer="shipkeeper button", config={orders.line: self._settings()}
            )
        except FileNotFoundError:
            raise OSError(f"there is no {orders.chip}") from None
        with request:
            self._read(request, gpiod.line.Value.ACTIVE, sink, stop)

    def _settings(self) -> Any:
        import gpiod

        bias = {
            "up": gpiod.line.Bias.PULL_UP,
            "down": gpiod.line.Bias.PULL_DOWN,
            "none": gpiod.line.Bias.AS_IS,
        }[self._orders.pull]
        return gpiod.LineSettings(
            direction=gpiod.line.Direction.INPUT,
            edge_detection=gpiod.line.Edge.BOTH,
            bias=bias,
            active_low=self._orders.pull != "down",
            debounce_period=timedelta(seconds=self._orders.debounce_s),
        )

    def _tell(self, how: str | None, sink: CommandSink) -> None:
        if how is not None:
            sink.command("press", {"how": how}, who="the button", through="button")

    def _read(self, request: Any, active: Any, sink: CommandSink, stop: threading.Event) -> None:
        presses = Presses(self._orders.long_s)
        while not stop.is_set():
            now_s = time.monotonic()
            down = request.get_value(self._orders.line) is active
            self._tell(presses.look(down, now_s), sink)
            if presses.is_stuck(now_s):
                raise OSError(f"the button has been down for {STUCK_S:g} s: it is stuck")
            if request.wait_edge_events(LOOK_WHILE_DOWN if down else LOOK_EVERY):
                # The kernel stamps edges by the same clock: a tap is seen whole, also late.
                for edge in request.read_edge_events():
                    pressed = edge.event_type is edge.Type.RISING_EDGE
                    self._tell(presses.look(pressed, edge.timestamp_ns / 1e9), sink)
