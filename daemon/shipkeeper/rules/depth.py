"""Depth: too little water, too much, shoaling fast, or too little at the coming low water.

Consequence: she touches, lies over, or holes herself on her own anchor.
Response: look at the sounder and the tide table; shorten rode or shift berth while she floats.
Time to respond: half an hour before the forecast low; minutes when it is shoal already.

The depth is judged at the reference the orders name (keel, waterline, transducer) and the text
says which. At rest, the tide is read off the sounder's own record: see tide_trend.py.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from msgspec import field

from ..picture.soundings import waterline_m
from ..words.alert import OWN_SHIP, Subject
from ..words.observations import Depth as Sounding
from ..words.orders import Metres, PriorityLabel, Quantity, RuleOrders, Seconds, Vessel
from ..words.verdict import Judgement, Verdict
from .rule import over
from .tide_trend import Ahead, TideTrend

if TYPE_CHECKING:
    from ..picture.picture import Picture
    from ..picture.watch import WatchSet

SOUNDINGS = 3  # so many in a row before the delay is skipped (alerts.md 4.2, our decision)
RATE_OVER_S = 120.0
FORECAST_EVERY_S = 60.0
FORECAST = Subject("part:low-water", "part", "low water")
SHOALING = Subject("part:shoaling", "part", "shoaling")

ShoalingRate = Annotated[float, Quantity("rate_of_change", 0.0, 10.0)]


class DepthOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[[depth]]"""

    table: ClassVar[str] = "depth"
    left_out: ClassVar[dict[str, str]] = {"deadband": "the larger of 0.2 m and 5 % of the limit"}

    name: str = "depth"
    priority: PriorityLabel | Literal["none"] = "alarm"
    confirm_s: Seconds = field(default=10.0, name="confirm")
    clear_s: Seconds = field(default=60.0, name="clear")
    deadband_m: Metres | None = field(default=None, name="deadband")
    shallower_than_m: Metres | None = field(default=None, name="shallower_than")
    deeper_than_m: Metres | None = field(default=None, name="deeper_than")
    shoals_faster_than_ms: ShoalingRate | None = field(default=None, name="shoals_faster_than")
    reference: Literal["keel", "waterline", "transducer"] = "transducer"
    forecast_s: Annotated[float, Quantity("time", 0.0, 6 * 3600.0)] = field(
        default=50 * 60.0, name="forecast"
    )
    consequence: str = "she touches the bottom"
    response: str = "look at the sounder and the tide; shorten rode or shift while she floats"

    def problems(self) -> list[tuple[str, str]]:
        limits = (self.shallower_than_m, self.deeper_than_m, self.shoals_faster_than_ms)
        if all(limit is None for limit in limits):
            return [("shallower_than", "give shallower_than, deeper_than or shoals_faster_than")]
        if (
            self.shallower_than_m is not None
            and self.deeper_than_m is not None
            and self.shallower_than_m >= self.deeper_than_m
        ):
            return [("deeper_than", "must be more than shallower_than")]
        return []

    def explain(self) -> list[str]:
        said = []
        at = f"measured from the {self.reference}"
        if self.shallower_than_m is not None:
            said.append(f"raised when the depth {at} is under {self.shallower_than_m:g} m")
            if self.forecast_s:
                said.append(
                    f"at rest, warns when the falling tide will get there within "
                    f"{self.forecast_s / 60:g} min"
                )
        if self.deeper_than_m is not None:
            said.append(f"raised when the depth {at} is over {self.deeper_than_m:g} m")
        if self.shoals_faster_than_ms is not None:
            rate = self.shoals_faster_than_ms * 60
            said.append(f"raised when it shoals by more than {rate:g} m a minute")
        return said

    def build(self, vessel: Vessel) -> Depth:
        return Depth(self, vessel)


class Depth:
    """See the module's first lines."""

    prompt = False

    def __init__(self, orders: DepthOrders, vessel: Vessel) -> None:
        self.orders = orders
        self.vessel = vessel
        self.trend = TideTrend()
        self._last_at_s: float | None = None
        self._in_a_row = 0
        self._recent: deque[tuple[float, float]] = deque(maxlen=600)
        self._forecast_s = float("-inf")
        self._ahead = Ahead()

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        reading = picture.own.depth.get(now_s)
        if reading is None:
            return Judgement(missing=("depth",))
        depth = self.at_reference(reading.value)
        if depth is None:
            return Judgement(missing=("draught" if self._draught_is_missing() else "transducer",))
        if reading.at_s != self._last_at_s:
            self._take(reading.at_s, depth, picture.watch)
        self._look_ahead(now_s, self._ground_m(reading.value), picture.watch)
        verdicts = [self._level(depth, reading.at_s)]
        if self.orders.shoals_faster_than_ms is not None:
            rate = self._rate_ms(reading.at_s)
            if rate is not None or SHOALING.key in open_keys:
                verdicts.append(self._shoaling(rate, depth, reading.at_s))
        if self._foretells:
            known = not picture.watch.at_rest or self.trend.is_known(now_s)
            if known or FORECAST.key in open_keys:
                verdicts.append(self._forecast(depth, reading.at_s, known))
        return Judgement(tuple(verdicts))

    def watch_set(self, picture: Picture, now_s: float) -> None:
        self.trend.start()
        self._recent.clear()

    def remember(self) -> bytes | None:
        return self.trend.remember()

    def recall(self, state: bytes, now_s: float) -> None:
        self.trend.recall(state, now_s)

    def at_reference(self, sounding: Sounding) -> float | None:
        """Depth (m) from the reference of the orders; None when the boat is not known enough."""
        if self.orders.reference == "transducer":
            return sounding.below_transducer_m
        if self.orders.reference == "keel":
            return self.at_keel(sounding)
        return waterline_m(sounding, self.vessel)

    def at_keel(self, sounding: Sounding) -> float | None:
        """Water under the keel (m); None when the boat is not known enough."""
        below, offset = sounding.below_transducer_m, sounding.offset_m
        if offset is not None and offset < 0:
            return below + offset
        waterline = waterline_m(sounding, self.vessel)
        if waterline is None or self.vessel.draught_m is None:
            return None
        return waterline - self.vessel.draught_m

    def _draught_is_missing(self) -> bool:
        return self.orders.reference == "keel" and self.vessel.draught_m is None

    @property
    def _foretells(self) -> bool:
        return self.orders.shallower_than_m is not None and self.orders.forecast_s > 0

    def _ground_m(self, sounding: Sounding) -> float | None:
        """The depth at the reference at which she touches; None when the boat is not known."""
        at_keel, depth = self.at_keel(sounding), self.at_reference(sounding)
        return None if at_keel is None or depth is None else depth - at_keel

    def _look_ahead(self, now_s: float, ground_m: float | None, watch: WatchSet) -> None:
        """Afloat and at rest; the record grows by the minute, more often says nothing new."""
        if not self._foretells or not watch.at_rest:
            self._ahead = Ahead()
        elif now_s - self._forecast_s >= FORECAST_EVERY_S:
            self._forecast_s = now_s
            self._ahead = self.trend.ahead(self.orders.shallower_than_m or 0.0, ground_m, now_s)

    def _take(self, at_s: float, depth: float, watch: WatchSet) -> None:
        self._last_at_s = at_s
        shallow = self.orders.shallower_than_m
        beyond = shallow is not None and depth < shallow / 2
        self._in_a_row = self._in_a_row + 1 if beyond else 0
        self._recent.append((at_s, depth))
        if watch.at_rest:
            self.trend.will_rise(0.0 if watch.mark is None else watch.mark.rise_m)
            self.trend.take(at_s, depth)

    def _level(self, depth: float, at_s: float) -> Verdict:
        orders = self.orders
        holds, gone, limit = False, True, orders.shallower_than_m
        if orders.shallower_than_m is not None:
            holds, gone = over(
                -depth, -orders.shallower_than_m, self._band(orders.shallower_than_m)
            )
        if orders.deeper_than_m is not None and not holds:
            deep, not_deep = over(depth, orders.deeper_than_m, self._band(orders.deeper_than_m))
            holds, gone = deep, gone and not_deep
            if deep or limit is None:
                limit = orders.deeper_than_m
        return Verdict(
            subject=OWN_SHIP,
            holds=holds,
            gone=gone,
            value=round(depth, 2),
            limit=limit,
            unit="m",
            data_at_s=at_s,
            at_once=holds and self._in_a_row >= SOUNDINGS,
            worse=self._in_a_row >= SOUNDINGS,
            facts={
                "event": "level",
                "depth_m": depth,
                "limit_m": limit,
                "reference": orders.reference,
                "deep": limit is not None and limit == orders.deeper_than_m and holds,
                **self._foretold(),
            },
        )

    def _rate_ms(self, at_s: float) -> float | None:
        """Fall over two minutes, from the means of its first and last quarter; None: too few
        soundings."""
        while self._recent and at_s - self._recent[0][0] > RATE_OVER_S:
            self._recent.popleft()
        if len(self._recent) < 8 or at_s - self._recent[0][0] <= RATE_OVER_S / 2:
            return None
        quarter = len(self._recent) // 4
        old, new = list(self._recent)[:quarter], list(self._recent)[-quarter:]
        run_s = _mean_of(new, 0) - _mean_of(old, 0)
        return (_mean_of(old, 1) - _mean_of(new, 1)) / run_s

    def _shoaling(self, rate: float | None, depth: float, at_s: float) -> Verdict:
        limit = self.orders.shoals_faster_than_ms or 0.0
        return Verdict(
            subject=SHOALING,
            holds=None if rate is None else rate > limit,
            gone=rate is not None and rate <= 0.8 * limit,
            value=None if rate is None else round(rate * 60, 2),
            limit=round(limit * 60, 2),
            unit="m/min",
            data_at_s=at_s,
            facts={
                "event": "shoaling",
                "depth_m": depth,
                "rate_ms": rate,
                "reference": self.orders.reference,
            },
        )

    def _forecast(self, depth: float, at_s: float, known: bool) -> Verdict:
        limit = self.orders.shallower_than_m or 0.0
        eta_s = self._ahead.reaches_s
        if eta_s is not None and eta_s > self.orders.forecast_s:
            eta_s = None
        return Verdict(
            subject=FORECAST,
            holds=eta_s is not None and depth >= limit if known else None,
            gone=known and eta_s is None,
            value=None if eta_s is None else round(eta_s / 60, 1),
            limit=self.orders.forecast_s / 60,
            unit="min",
            data_at_s=at_s,
            priority="warning",
            facts={
                "event": "forecast",
                "depth_m": depth,
                "limit_m": limit,
                "eta_s": eta_s,
                "reference": self.orders.reference,
                **self._foretold(),
            },
        )

    def _foretold(self) -> dict[str, float]:
        """What else comes with the tide, for the texts."""
        ahead = self._ahead
        told = {"low_s": ahead.low_s, "low_m": ahead.low_m, "touches_s": ahead.touches_s}
        return {name: value for name, value in told.items() if value is not None}

    def _band(self, limit: float) -> float:
        given = self.orders.deadband_m
        return given if given is not None else max(0.2, 0.05 * limit)


def _mean_of(rows: list[tuple[float, float]], column: int) -> float:
    return sum(row[column] for row in rows) / len(rows)
