"""Sensor: any named transducer measurement (XDR): a battery, a pressure, a temperature.

Consequence: what the measurement guards: flat batteries take the watch, the lights, the pump.
Response: as the orders' own `response` says; by default look at what it measures.
Time to respond: hours for a battery, minutes for an engine room temperature.

Limits are written with the unit that the sensor sends ("12.1 V", "35 C", "995 hPa").
"""

from __future__ import annotations

import re
from collections import deque
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

import msgspec
from msgspec import field

from ..words.alert import OWN_SHIP
from ..words.orders import PriorityLabel, Quantity, RuleOrders, Seconds, Vessel
from ..words.verdict import Judgement, Verdict

if TYPE_CHECKING:
    from ..picture.picture import Picture

# Unit in the orders -> (XDR unit letter, factor from the orders' unit to the sentence's).
# XDR letters after NMEA 0183 (from memory): V volts, C celsius, B bar, P pascal or percent,
# A amperes, M metres, H hertz, R revolutions a minute, D degrees, K kilograms per cubic metre.
XDR_UNITS: dict[str, tuple[str, float]] = {
    "V": ("V", 1.0),
    "A": ("A", 1.0),
    "C": ("C", 1.0),
    "bar": ("B", 1.0),
    "hPa": ("B", 0.001),
    "mbar": ("B", 0.001),
    "Pa": ("P", 1.0),
    "%": ("P", 1.0),
    "m": ("M", 1.0),
    "deg": ("D", 1.0),
    "Hz": ("H", 1.0),
    "rpm": ("R", 1.0),
    "l/s": ("l", 1.0),
}
PIECES = 512
COARSER = 4  # so many pieces are kept as one
# (amount, limit: holds when amount > limit; value to show, what happened, unit)
Case = tuple[float, float, float, str, str]
_LIMIT = re.compile(r"\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+))\s*([A-Za-z%/]+)\s*\Z")


def read_limit(text: str) -> tuple[float, str, str] | None:
    """'995 hPa' -> (0.995, 'B', 'hPa'): number and letter as the sentence has them."""
    match = _LIMIT.match(text)
    if match is None or match[2] not in XDR_UNITS:
        return None
    letter, factor = XDR_UNITS[match[2]]
    return float(match[1]) * factor, letter, match[2]


class SensorOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[[sensor]]"""

    table: ClassVar[str] = "sensor"
    left_out: ClassVar[dict[str, str]] = {"deadband": "1 % of the limit"}

    name: str
    priority: PriorityLabel | Literal["none"] = "warning"
    confirm_s: Seconds = field(default=60.0, name="confirm")
    clear_s: Seconds = field(default=300.0, name="clear")
    measures: str
    above: str | None = None
    below: str | None = None
    falls_by: str | None = None
    rises_by: str | None = None
    over_s: Annotated[float, Quantity("time", 10.0, 86_400.0)] = field(default=600.0, name="over")
    deadband: str | None = None
    consequence: str = "what it measures goes wrong unseen"
    response: str = "look at what it measures"

    def problems(self) -> list[tuple[str, str]]:
        limits = {
            "above": self.above,
            "below": self.below,
            "falls_by": self.falls_by,
            "rises_by": self.rises_by,
        }
        given = {key: text for key, text in limits.items() if text is not None}
        if not given:
            return [("below", "give above, below, falls_by or rises_by")]
        if self.deadband is not None:
            given["deadband"] = self.deadband
        units = ", ".join(XDR_UNITS)
        found = [
            (key, f'"{text}" is not a number and a unit; units are {units}')
            for key, text in given.items()
            if read_limit(text) is None
        ]
        found += [
            (key, f'"{text}" is below zero; say how much it changes, such as "3 hPa"')
            for key, text in given.items()
            if key not in ("above", "below") and (read := read_limit(text)) and read[0] < 0
        ]
        letters = {read[1] for text in given.values() if (read := read_limit(text))}
        if len(letters) > 1:
            found.append(("measures", "all limits of one sensor need units of one kind"))
        return found

    def explain(self) -> list[str]:
        said = []
        for word, text in (("above", self.above), ("below", self.below)):
            if text is not None:
                said.append(f'raised when "{self.measures}" is {word} {text}')
        for word, text in (("falls", self.falls_by), ("rises", self.rises_by)):
            if text is not None:
                said.append(f'raised when "{self.measures}" {word} by {text} in {self.over_s:g} s')
        return said

    def build(self, vessel: Vessel) -> Sensor:
        return Sensor(self)


class Sensor:
    """See the module's first lines."""

    prompt = False

    def __init__(self, orders: SensorOrders) -> None:
        self.orders = orders
        self._past: deque[list[float]] = deque()  # [begun, lowest, highest], oldest first
        self._changes = False  # by more than the orders bear, as last judged

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        channel = picture.measurements.get(self.orders.measures)
        reading = channel.get(now_s) if channel is not None else None
        if reading is None or not self._same_unit(reading.value.unit):
            return Judgement(missing=(self.orders.measures,))
        value = reading.value.value
        self._keep(value, reading.at_s, now_s)
        cases = self._cases(value)
        self._look_at_changes(cases)
        worst = max(cases, key=lambda case: case[0] - case[1])
        amount, limit, shown, event, unit = worst
        band = self._band(limit)
        scale = 1.0 / XDR_UNITS[unit][1]
        most = round((-limit if event == "below" else limit) * scale, 4)
        return Judgement(
            (
                Verdict(
                    subject=OWN_SHIP,
                    holds=amount > limit,
                    gone=amount <= limit - band,
                    value=round(shown * scale, 4),
                    limit=most,
                    unit=unit,
                    data_at_s=reading.at_s,
                    facts={
                        "name": self.orders.name,
                        "measures": self.orders.measures,
                        "event": event,
                        "value": shown * scale,
                        "unit": unit,
                        "limit": most,
                        "over_s": self.orders.over_s,
                    },
                ),
            )
        )

    def watch_set(self, picture: Picture, now_s: float) -> None:
        return None

    def weighty(self) -> object:
        """When it has changed too much, from what it did so must outlive a power cut."""
        return self._changes

    def remember(self) -> bytes | None:
        """The past in pieces, coarser: it is written now and then."""
        if self.orders.falls_by is None and self.orders.rises_by is None:
            return None
        past = list(self._past)
        parts = [past[i : i + COARSER] for i in range(0, len(past), COARSER)]
        kept = [[p[0][0], min(x[1] for x in p), max(x[2] for x in p)] for p in parts]
        return msgspec.json.encode(kept) if kept else None

    def recall(self, state: bytes, now_s: float) -> None:
        try:
            kept = msgspec.json.decode(state, type=list[tuple[float, float, float]])
        except ValueError:  # msgspec's own errors, and text that is not UTF-8
            return
        pieces = sorted(piece for piece in kept if 0 <= now_s - piece[0] <= self.orders.over_s)
        self._past = deque(list(piece) for piece in pieces[-PIECES:])

    def _look_at_changes(self, cases: list[Case]) -> None:
        changes = [case for case in cases if case[3] in ("falls", "rises")]
        if any(amount > limit for amount, limit, *_ in changes):
            self._changes = True
        elif all(amount <= limit - self._band(limit) for amount, limit, *_ in changes):
            self._changes = False

    def _cases(self, value: float) -> list[Case]:
        orders = self.orders
        cases = []
        if orders.above is not None and (read := read_limit(orders.above)):
            cases.append((value, read[0], value, "above", read[2]))
        if orders.below is not None and (read := read_limit(orders.below)):
            cases.append((-value, -read[0], value, "below", read[2]))
        if orders.falls_by is not None and (read := read_limit(orders.falls_by)):
            fall = max(high for _, _, high in self._past) - value
            cases.append((fall, read[0], fall, "falls", read[2]))
        if orders.rises_by is not None and (read := read_limit(orders.rises_by)):
            rise = value - min(low for _, low, _ in self._past)
            cases.append((rise, read[0], rise, "rises", read[2]))
        return cases

    def _keep(self, value: float, at_s: float, now_s: float) -> None:
        """A day of readings in a few hundred pieces, for `falls_by` and `rises_by`."""
        piece_s = self.orders.over_s / PIECES
        if not self._past or at_s - self._past[-1][0] >= piece_s:
            self._past.append([at_s, value, value])
        else:
            piece = self._past[-1]
            piece[1], piece[2] = min(piece[1], value), max(piece[2], value)
        while len(self._past) > 1 and now_s - self._past[0][0] > self.orders.over_s:
            self._past.popleft()

    def _band(self, limit: float) -> float:
        if self.orders.deadband is not None and (read := read_limit(self.orders.deadband)):
            return read[0]
        return 0.01 * abs(limit)

    def _same_unit(self, letter: str) -> bool:
        texts = (
            self.orders.above,
            self.orders.below,
            self.orders.falls_by,
            self.orders.rises_by,
        )
        wanted = {read[1] for text in texts if text is not None and (read := read_limit(text))}
        return not letter or letter in wanted
