"""Proximity: a ship that will come too close, by CPA and TCPA, or that is too close now.

Consequence: collision.
Response: look out now; COLREG decides who does what; at anchor, light and sound, call her.
Time to respond: the TCPA told.

Both CPA and TCPA must be inside their limits (IMO MSC.192(79) 5.29.1); radar and AIS targets
share the limits. At anchor, moored or berthed own velocity is zero. The text carries how far
off the forecast may be: a CPA is never finer than its data.
"""

from __future__ import annotations

import math
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, ClassVar, Literal

from msgspec import field

from ..picture.encounter import Encounter, encounter
from ..picture.outline import POINT, gap, own_outline, target_outline
from ..picture.targets import Target
from ..words.geo import velocity
from ..words.orders import Metres, PriorityLabel, RuleOrders, Seconds, Vessel
from ..words.verdict import Judgement, Verdict
from .filters import Ignore

if TYPE_CHECKING:
    from ..picture.picture import Picture

CPA_BAND = 0.15  # share of the CPA limit (alerts.md 4.2, our decision)
TCPA_BAND_S = 60.0


class ProximityOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[[proximity]]"""

    table: ClassVar[str] = "proximity"
    left_out: ClassVar[dict[str, str]] = {
        "deadband": "15 % of cpa and 1 min of tcpa; of range, 5 %, at least 20 m"
    }

    name: str
    priority: PriorityLabel | Literal["none"] = "alarm"
    confirm_s: Seconds = field(default=10.0, name="confirm")
    clear_s: Seconds = field(default=60.0, name="clear")
    deadband_m: Metres | None = field(default=None, name="deadband")
    cpa_m: Metres | None = field(default=None, name="cpa")
    tcpa_s: Seconds | None = field(default=None, name="tcpa")
    within_m: Metres = field(default=6 * 1852.0, name="within")
    range_m: Metres | None = field(default=None, name="range")
    measure: Literal["hull", "antenna"] = "hull"
    ignore: Ignore = Ignore()
    consequence: str = "collision"
    response: str = "look out now; light and sound; call her on the radio"

    def problems(self) -> list[tuple[str, str]]:
        by_motion = (self.cpa_m is not None, self.tcpa_s is not None)
        if self.range_m is not None and any(by_motion):
            return [("range", "give either range, or cpa and tcpa")]
        if self.range_m is None and not all(by_motion):
            return [("cpa" if not by_motion[0] else "tcpa", "give cpa and tcpa, or range")]
        return self.ignore.cross_check(self.table)

    def explain(self) -> list[str]:
        if self.range_m is not None:
            return [f"raised when a target is within {self.range_m:g} m ({self.measure})"]
        return [
            f"raised when a target will pass within {self.cpa_m:g} m ({self.measure}) in less "
            f"than {(self.tcpa_s or 0) / 60:g} min",
            f"targets beyond {self.within_m:g} m are not looked at",
            "left out: " + ("; ".join(self.ignore.told()) or "nobody"),
        ]

    def build(self, vessel: Vessel) -> Proximity:
        return Proximity(self, vessel)


class Proximity:
    """See the module's first lines."""

    prompt = False

    def __init__(self, orders: ProximityOrders, vessel: Vessel) -> None:
        self.orders = orders
        self.vessel = vessel

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        own_place = picture.own_place(now_s)
        if own_place is None:
            return Judgement(missing=("position",))
        motion = picture.own_velocity(now_s)
        if motion is None:
            return Judgement(missing=("course",))
        own_motion = velocity(*motion)
        verdicts = []
        bound2 = max(self.orders.within_m, self.orders.range_m or 0.0) ** 2
        for target, east, north in picture.targets.around(own_place, now_s):
            is_open = target.key in open_keys
            if east * east + north * north > bound2 and not is_open:
                continue
            if target.lost or self.orders.ignore.why_not(target, math.hypot(east, north), now_s):
                if not is_open:
                    continue
                if target.lost:
                    continue  # left out, so it counts as unknown
            met = encounter(east, north, own_motion, target.motion())
            verdict = self._judge(picture, target, met, (east, north), now_s)
            if verdict.holds or is_open:
                verdicts.append(verdict)
        return Judgement(tuple(verdicts))

    def watch_set(self, picture: Picture, now_s: float) -> None:
        return None

    def remember(self) -> bytes | None:
        return None

    def recall(self, state: bytes, now_s: float) -> None:
        return None

    def filters_in_force(self) -> list[str]:
        return [f"leaves out {text}" for text in self.orders.ignore.told()]

    def _judge(
        self,
        picture: Picture,
        target: Target,
        met: Encounter,
        place: tuple[float, float],
        now_s: float,
    ) -> Verdict:
        orders = self.orders
        own_hull, hull = POINT, POINT
        if orders.measure == "hull":
            own_hull = own_outline(self.vessel, picture.own.heading_deg(now_s))
            hull = target_outline(target)
        range_m = gap(own_hull, hull, *place)
        if orders.range_m is not None:
            limit = orders.range_m
            band = orders.deadband_m if orders.deadband_m is not None else max(20, 0.05 * limit)
            value, holds, gone = range_m, range_m <= limit, range_m > limit + band
        else:
            limit = orders.cpa_m or 0.0
            value = self._hull_cpa(met, own_hull.reach_m, hull.reach_m)
            holds, gone = self._by_motion(met, value)
        return Verdict(
            subject=target.subject,
            holds=holds,
            gone=gone,
            value=round(value, 1),
            limit=limit,
            unit="m",
            lat=target.lat,
            lon=target.lon,
            data_at_s=target.placed_s,
            facts={
                "name": target.label,
                "range_m": met.range_m,
                "bearing_deg": met.bearing_deg,
                "cpa_m": met.cpa_m,
                "tcpa_s": met.tcpa_s,
                "passes": met.passes,
                "bow_range_m": met.bow_range_m,
                "bow_time_s": met.bow_time_s,
                "course_deg": target.course_deg,
                "speed_ms": target.speed_ms,
                "assumed": hull.assumed,
                "source": target.kind,
            },
        )

    @staticmethod
    def _hull_cpa(met: Encounter, own_reach_m: float, reach_m: float) -> float:
        """CPA between hulls, on the safe side: both turned towards each other."""
        return max(0.0, met.cpa_m - own_reach_m - reach_m)

    def _by_motion(self, met: Encounter, cpa: float) -> tuple[bool, bool]:
        cpa_limit, tcpa_limit = self.orders.cpa_m or 0.0, self.orders.tcpa_s or 0.0
        band = self.orders.deadband_m
        band = CPA_BAND * cpa_limit if band is None else band
        tcpa = met.tcpa_s
        if met.range_m > self.orders.within_m:
            return False, True
        if tcpa is None or tcpa < 0:
            # Past the closest point, or no relative motion: only the range counts.
            return False, True
        holds = cpa <= cpa_limit and tcpa <= tcpa_limit
        gone = cpa > cpa_limit + band or tcpa > tcpa_limit + TCPA_BAND_S
        return holds, gone
