"""Wind: blowing harder than the mean, in gusts, or from another quarter than it did.

Consequence: more pull than the anchor was set for, or a lee shore where there was shelter.
Response: look at the holding and the lee; more rode, engine ready, or leave while it is easy.
Time to respond: some ten minutes.

True and apparent wind are kept apart. `frame = "true"` uses ground or true wind; at rest the
apparent wind is the true wind. A shift is measured from the wind when the watch was set.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

import msgspec
from msgspec import field

from ..words.alert import OWN_SHIP, Subject
from ..words.geo import angle_difference, wrap_bearing
from ..words.orders import Angle, PriorityLabel, Quantity, RuleOrders, Seconds, Speed, Vessel
from ..words.units import MS_PER_KN
from ..words.verdict import Judgement, Verdict

if TYPE_CHECKING:
    from ..picture.picture import Picture

GUST_S = 3.0  # a gust is the mean over three seconds (WMO practice, from memory)
LEAST_MEAN_S = 60.0
TOLD_BLIND_S = 10.0  # shorter at a start it is not told, and needs no end
SHIFT_MEAN_S = 120.0
LEAST_WIND_MS = 2.0  # in lighter air a direction is no direction (our decision)
LEAST_STEADY = 0.5  # length of the mean of unit vectors; about 67 degrees to and fro; ours
GUST = Subject("part:gust", "part", "gusts")
SHIFT = Subject("part:shift", "part", "wind shift")


class WindOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[[wind]]"""

    table: ClassVar[str] = "wind"
    left_out: ClassVar[dict[str, str]] = {"deadband": "the larger of 2 kn and 5 % of the limit"}

    name: str = "wind"
    priority: PriorityLabel | Literal["none"] = "warning"
    confirm_s: Seconds = field(default=60.0, name="confirm")
    clear_s: Seconds = field(default=300.0, name="clear")
    deadband_ms: Speed | None = field(default=None, name="deadband")
    stronger_than_ms: Speed | None = field(default=None, name="stronger_than")
    mean_s: Annotated[float, Quantity("time", 1.0, 3600.0)] = field(default=60.0, name="mean")
    gust_over_ms: Speed | None = field(default=None, name="gust_over")
    shift_over_deg: Angle | None = field(default=None, name="shift_over")
    frame: Literal["true", "apparent"] = "true"
    consequence: str = "more pull than the anchor was set for, or the shelter is gone"
    response: str = "look at holding and lee; more rode, engine ready, or leave"

    def problems(self) -> list[tuple[str, str]]:
        limits = (self.stronger_than_ms, self.gust_over_ms, self.shift_over_deg)
        if all(limit is None for limit in limits):
            return [("stronger_than", "give stronger_than, gust_over or shift_over")]
        return []

    def explain(self) -> list[str]:
        said = []
        if self.stronger_than_ms is not None:
            said.append(
                f"raised when the mean of {self.mean_s:g} s is over "
                f"{self.stronger_than_ms / MS_PER_KN:g} kn ({self.frame} wind)"
            )
        if self.gust_over_ms is not None:
            said.append(f"raised at a gust over {self.gust_over_ms / MS_PER_KN:g} kn, at once")
        if self.shift_over_deg is not None:
            said.append(
                f"raised when it has shifted over {self.shift_over_deg:g} degrees from the wind "
                "when the watch was set"
            )
        return said

    def build(self, vessel: Vessel) -> Wind:
        return Wind(self)


class _Kept(msgspec.Struct, array_like=True):
    from_deg: float | None


class Wind:
    """See the module's first lines."""

    prompt = False

    def __init__(self, orders: WindOrders) -> None:
        self.orders = orders
        self._speeds: deque[tuple[float, float]] = deque()
        self._ways: deque[tuple[float, float, float]] = deque()  # stamp, east, north
        self._set_from_deg: float | None = None
        self._blind_s: float | None = None
        self._is_told_blind = False  # and not judged since

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        wind = self._wind(picture, now_s)
        if wind is None:
            self._blind_s = now_s if self._blind_s is None else self._blind_s
            self._is_told_blind = now_s - self._blind_s >= TOLD_BLIND_S
            turning = picture.own.apparent.get(now_s) is not None and self.orders.frame == "true"
            if turning and picture.own.heading_deg(now_s) is None:
                return Judgement(missing=("heading",))  # without it no true wind comes of it
            return Judgement(missing=("wind",))
        self._blind_s = None
        speed, from_deg = wind
        self._take(now_s, speed, from_deg)
        orders = self.orders
        verdicts = []
        mean, gust = self._mean(now_s, orders.mean_s), self._mean(now_s, GUST_S)
        direction = self._direction()
        facts: dict[str, object] = {
            "mean_ms": mean,
            "gust_ms": gust,
            "from_deg": direction,
            "frame": orders.frame,
        }
        if orders.stronger_than_ms is not None and mean is not None:
            self._is_told_blind = False
            verdicts.append(
                self._over(OWN_SHIP, mean, orders.stronger_than_ms, now_s, "mean", facts)
            )
        elif orders.stronger_than_ms is not None and self._is_told_blind:
            verdicts.append(Verdict(subject=OWN_SHIP, holds=None))  # not good before it is judged
        if orders.gust_over_ms is not None and gust is not None:
            subject = GUST if orders.stronger_than_ms is not None else OWN_SHIP
            verdicts.append(self._over(subject, gust, orders.gust_over_ms, now_s, "gust", facts))
        missing: tuple[str, ...] = ()
        if orders.shift_over_deg is not None:
            if direction is not None:
                verdicts.append(self._shift(direction, mean or 0.0, now_s, facts))
            elif from_deg is None:
                missing = ("heading",)
                if not self._is_of_shift_alone:
                    verdicts.append(Verdict(subject=SHIFT, holds=None, facts={"event": "shift"}))
        return Judgement(tuple(verdicts), missing)

    def watch_set(self, picture: Picture, now_s: float) -> None:
        self._set_from_deg = None

    def weighty(self) -> object:
        """What she lay to when the watch was set: a shift is measured from there."""
        return self._set_from_deg

    def remember(self) -> bytes | None:
        if self.orders.shift_over_deg is None:
            return None
        set_from = None if self._set_from_deg is None else round(self._set_from_deg, 1)
        return msgspec.json.encode(_Kept(set_from))

    def recall(self, state: bytes, now_s: float) -> None:
        try:
            self._set_from_deg = msgspec.json.decode(state, type=_Kept).from_deg
        except ValueError:  # msgspec's own errors, and text that is not UTF-8
            return

    @property
    def _is_of_shift_alone(self) -> bool:
        return self.orders.stronger_than_ms is None and self.orders.gust_over_ms is None

    def _wind(self, picture: Picture, now_s: float) -> tuple[float, float | None] | None:
        if self.orders.frame == "true":
            return picture.own.wind_over_ground(now_s, picture.watch.at_rest)
        reading = picture.own.apparent.get(now_s)
        if reading is None:
            return None
        heading, angle = picture.own.heading_deg(now_s), reading.value.angle_deg
        turned = None if heading is None or angle is None else wrap_bearing(heading + angle)
        return reading.value.speed_ms, turned

    def _take(self, now_s: float, speed: float, from_deg: float | None) -> None:
        self._speeds.append((now_s, speed))
        while self._speeds and now_s - self._speeds[0][0] >= max(self.orders.mean_s, GUST_S):
            self._speeds.popleft()
        if from_deg is not None and speed >= LEAST_WIND_MS:
            angle = math.radians(from_deg)
            self._ways.append((now_s, math.sin(angle), math.cos(angle)))
        while self._ways and now_s - self._ways[0][0] >= SHIFT_MEAN_S:
            self._ways.popleft()

    def _mean(self, now_s: float, over_s: float) -> float | None:
        """Mean of the last `over_s`, once there is that much; of a longer time once a minute of
        it is there: nobody waits an hour for a first judgement."""
        needed_s = min(over_s, self.orders.mean_s, LEAST_MEAN_S) - 2
        if not self._speeds or now_s - self._speeds[0][0] < needed_s:
            return None
        recent = [speed for at_s, speed in self._speeds if now_s - at_s < over_s]
        return sum(recent) / len(recent) if recent else None

    def _direction(self) -> float | None:
        """Mean direction over two minutes of enough wind; None of one that goes all round."""
        if len(self._ways) < 2 or self._ways[-1][0] - self._ways[0][0] < SHIFT_MEAN_S / 2:
            return None
        east = sum(way[1] for way in self._ways)
        north = sum(way[2] for way in self._ways)
        if math.hypot(east, north) < LEAST_STEADY * len(self._ways):
            return None
        return wrap_bearing(math.degrees(math.atan2(east, north)))

    def _over(
        self,
        subject: Subject,
        value: float,
        limit: float,
        now_s: float,
        event: str,
        facts: dict[str, object],
    ) -> Verdict:
        given = self.orders.deadband_ms
        band = given if given is not None else max(2 * MS_PER_KN, 0.05 * limit)
        return Verdict(
            subject=subject,
            holds=value > limit,
            gone=value <= limit - band,
            value=round(value / MS_PER_KN, 1),
            limit=round(limit / MS_PER_KN, 1),
            unit="kn",
            data_at_s=now_s,
            at_once=event == "gust" and value > limit,
            facts={**facts, "event": event},
        )

    def _shift(
        self, now_from: float, mean: float, now_s: float, facts: dict[str, object]
    ) -> Verdict:
        if self._set_from_deg is None:
            self._set_from_deg = now_from
        limit = self.orders.shift_over_deg or 0.0
        turn = angle_difference(now_from, self._set_from_deg)
        return Verdict(
            subject=OWN_SHIP if self._is_of_shift_alone else SHIFT,
            holds=abs(turn) > limit,
            gone=abs(turn) <= limit - 10.0,
            value=round(abs(turn)),
            limit=round(limit),
            unit="deg",
            data_at_s=now_s,
            facts={
                **facts,
                "event": "shift",
                "shift_deg": turn,
                "set_from_deg": self._set_from_deg,
            },
        )
