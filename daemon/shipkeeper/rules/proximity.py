"""Proximity: a ship that will come too close, by CPA and TCPA, or that is too close now.

Consequence: collision.
Response: look out now; COLREG decides who does what; at anchor, light and sound, call her.
Time to respond: the TCPA told.

Both CPA and TCPA must be inside their limits (IMO MSC.192(79) 5.29.1); radar and AIS targets
share the limits. At anchor, moored or berthed own velocity is zero. A target that turns is
judged on her curve as well as straight on, and the text says so. The text carries how far off
the forecast may be: a CPA is never finer than its data.
"""

from __future__ import annotations

import math
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Any, ClassVar, Literal

import msgspec
from msgspec import field

from ..picture.certainty import cpa_doubt_m
from ..picture.encounter import Encounter, approach, curved_approach, encounter, hull_approach
from ..picture.outline import POINT, Outline, gap, target_outline
from ..picture.plot import Placed
from ..picture.reporting import is_lost
from ..picture.targets import DROP_AFTER_S, Target
from ..words.alert import Subject
from ..words.orders import Count, Metres, PriorityLabel, RuleOrders, Seconds, Vessel
from ..words.units import M_PER_NM, MS_PER_KN
from ..words.verdict import Judgement, Verdict
from .filters import Ignore
from .sight import Sight, deaf, heard_by_living_ear, look

if TYPE_CHECKING:
    from ..picture.picture import Picture

CPA_BAND = 0.15  # share of the CPA limit (alerts.md 4.2, our decision)
TCPA_BAND_S = 60.0
AT_ONCE_S = 60.0  # with less time than this no confirming delay is due
TURN_TOLD = 5.0  # deg/min that a ship says of herself
TURN_SEEN = 20.0  # deg/min from her courses, which are noisier (both our decision)
TURN_LEAST_MS = 3.0 * MS_PER_KN


class ProximityOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[[proximity]]"""

    table: ClassVar[str] = "proximity"

    name: str
    priority: PriorityLabel | Literal["none"] = "alarm"
    confirm_s: Seconds = field(default=10.0, name="confirm")
    clear_s: Seconds = field(default=60.0, name="clear")
    deadband_m: Metres | None = field(default=None, name="deadband")
    cpa_m: Metres | None = field(default=None, name="cpa")
    tcpa_s: Seconds | None = field(default=None, name="tcpa")
    within_m: Metres = field(default=6 * M_PER_NM, name="within")
    range_m: Metres | None = field(default=None, name="range")
    measure: Literal["hull", "antenna"] = "hull"
    ignore: Ignore = Ignore()
    lost_after: Count = 6  # missed reports; 0: the lost-target function is off
    consequence: str = "collision"
    response: str = "look out now; light and sound; call her on the radio"

    @property
    def limit_m(self) -> float:
        return self.range_m if self.range_m is not None else self.cpa_m or 0.0

    @property
    def band_m(self) -> float:
        """15 % of the CPA limit; of a range max(20 m, 5 %)."""
        if self.deadband_m is not None:
            return self.deadband_m
        if self.range_m is not None:
            return max(20.0, 0.05 * self.range_m)
        return CPA_BAND * self.limit_m

    def problems(self) -> list[tuple[str, str]]:
        by_motion = (self.cpa_m is not None, self.tcpa_s is not None)
        found = []
        if self.range_m is not None and any(by_motion):
            found.append(("range", "give either range, or cpa and tcpa"))
        elif self.range_m is None and not all(by_motion):
            found.append(("cpa" if not by_motion[0] else "tcpa", "give cpa and tcpa, or range"))
        if self.cpa_m is not None and self.cpa_m > self.within_m:
            found.append(("within", "is less than cpa: such a ship would never be looked at"))
        return found + self.ignore.cross_check(self.table)

    def explain(self) -> list[str]:
        if self.range_m is not None:
            said = [f"raised when a target is within {self.range_m:g} m ({self.measure})"]
        else:
            said = [
                f"raised when a target will pass within {self.cpa_m:g} m ({self.measure}) in "
                f"less than {(self.tcpa_s or 0) / 60:g} min, straight on or on her curve",
                f"targets beyond {self.within_m / M_PER_NM:.3g} NM are not looked at",
                f"gone when the CPA is {self.band_m:g} m more, or the TCPA a minute more, or past",
            ]
        said.append("left out: " + ("; ".join(self.ignore.told()) or "nobody"))
        said.append(
            f"a ship that closes and misses {self.lost_after} reports is raised as lost"
            if self.lost_after
            else "lost targets are not raised: the function is off"
        )
        return said

    def build(self, vessel: Vessel) -> Proximity:
        return Proximity(self, vessel)


class Threat(msgspec.Struct, frozen=True, gc=False):
    """What a target's motion means for own ship."""

    holds: bool
    gone: bool
    cpa_m: float | None = None  # None: no nearer than now
    tcpa_s: float | None = None
    curved: bool = False


class Proximity:
    """See the module's first lines."""

    prompt = False

    def __init__(self, orders: ProximityOrders, vessel: Vessel) -> None:
        self.orders = orders
        self.vessel = vessel
        self._quiet: set[str] = set()  # half of a ship that split in two: not a new one
        self._judged_s: float | None = None
        self._held: set[str] = set()

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        sight = look(picture, self.vessel, now_s, self.orders.measure)
        if sight.place is None:
            return Judgement(missing=("position",))
        if sight.motion is None and self.orders.range_m is None:
            return Judgement(missing=("course",))
        missing = deaf(picture, now_s)
        if missing:
            return Judgement(missing=missing)
        far = max(self.orders.within_m, self.orders.range_m or 0.0) + picture.targets.widest_m
        if self.orders.range_m is not None:
            far = (
                self.orders.range_m
                + self.orders.band_m
                + picture.targets.widest_m
                + (sight.hull.reach_m)
            )
        resting = self.orders.range_m is None and sight.motion == (0.0, 0.0)
        verdicts, said, held = [], set(), set()
        for row in picture.targets.plot(now_s).near(sight.place, far):
            target = row[0]
            if target.kind == "radar" and target.partner is not None:
                continue
            speaks = _speaks_as(target, open_keys)
            if (
                resting
                and not target.lat_rate
                and not target.lon_rate
                and (speaks.key not in open_keys)
            ):
                continue  # neither moves: nothing to forecast
            verdict = self._of(picture, row, speaks, sight, now_s, speaks.key in open_keys)
            said.add(speaks.key)
            if verdict is not None:
                verdicts.append(verdict)
                if verdict.holds:
                    held.add(target.key)
        for key in open_keys:
            if key not in said:
                verdict = self._of_open(picture, key, sight, now_s)
                if verdict is not None:
                    verdicts.append(verdict)
        self._held, self._judged_s = held, now_s
        self._quiet &= set(picture.targets.by_key)
        return Judgement(tuple(verdicts))

    def watch_set(self, picture: Picture, now_s: float) -> None:
        self._quiet.clear()

    def remember(self) -> bytes | None:
        return None

    def recall(self, state: bytes, now_s: float) -> None:
        return None

    def filters_in_force(self) -> list[str]:
        told = [f"leaves out {text}" for text in self.orders.ignore.told()]
        if not self.orders.lost_after:
            told.append("lost-target function off")
        return told

    def left_out(self, target: Target, away_m: float | None, now_s: float, utc_s: float) -> str:
        """Why this rule would not raise the target, '' when it would."""
        return self.orders.ignore.why_not(target, away_m, now_s, utc_s)

    # -- one target ------------------------------------------------------------------------

    def _of(
        self,
        picture: Picture,
        row: Placed,
        speaks: Subject,
        sight: Sight,
        now_s: float,
        is_open: bool,
    ) -> Verdict | None:
        """The verdict on one target; None when nothing is due or nothing can be said."""
        target = row[0]
        place = sight.plane(row[1], row[2])
        assert place is not None  # judge() has asked for it
        threat = self._threat(target, place, sight)
        if not threat.holds:
            self._quiet.discard(target.key)
            if not is_open:
                return None
        away = math.hypot(*place)
        if not is_open and self.orders.ignore.why_not(target, away, now_s, sight.utc_s):
            return None
        if self._is_split_half(target, threat):
            return (
                None
                if not is_open
                else self._verdict(
                    row,
                    speaks,
                    sight,
                    place,
                    msgspec.structs.replace(threat, holds=False, gone=True),
                )
            )
        lost = is_lost(target, now_s, self.orders.lost_after)
        if lost and not heard_by_living_ear(picture, target, now_s):
            return None
        if target.courting is not None and target.courting in self._held and not is_open:
            return None  # known here already, by the radar's name
        verdict = self._verdict(row, speaks, sight, place, threat)
        if lost and (threat.holds or is_open):
            # Where she is now nobody knows: the last word stands until she is heard again.
            low = self.orders.priority == "caution"
            facts = {**verdict.facts, "event": "lost"}
            return msgspec.structs.replace(
                verdict, holds=True, gone=False, worse=True, facts=facts,
                priority="warning" if low or not is_open else None,
            )  # fmt: skip
        return verdict

    def _is_split_half(self, target: Target, threat: Threat) -> bool:
        """IMO MSC.192(79) 5.30.3: when echo and report draw apart there is no alarm for it."""
        if not threat.holds:
            return False
        split = target.split_s
        if (
            split is not None
            and target.kind == "radar"
            and (self._judged_s is None or split > self._judged_s)
        ):
            self._quiet.add(target.key)
        return target.key in self._quiet

    def _threat(self, target: Target, place: tuple[float, float], sight: Sight) -> Threat:
        orders = self.orders
        hull = target_outline(target) if orders.measure == "hull" else POINT
        if orders.range_m is not None:
            met = sight.met(target, *place)
            near = gap(sight.hull, hull, *place)
            holds, gone = near <= orders.range_m, near > orders.range_m + orders.band_m
            return Threat(holds, gone or (orders.band_m == 0.0 and not holds), near,
                          met.tcpa_s if met is not None else None)  # fmt: skip
        straight = self._straight(target, hull, place, sight)
        if math.hypot(*place) > orders.within_m:
            return msgspec.structs.replace(straight, holds=False, gone=True)
        if straight.holds:
            return straight
        curve = self._curve(target, hull, place, sight)
        return curve if curve is not None and (curve.holds or not curve.gone) else straight

    def _straight(
        self, target: Target, hull: Outline, place: tuple[float, float], sight: Sight
    ) -> Threat:
        assert sight.motion is not None
        te, tn = target.motion()
        ve, vn = te - sight.motion[0], tn - sight.motion[1]
        cpa, tcpa = approach(*place, ve, vn)
        slack = sight.hull.reach_m + hull.reach_m
        limit, band = self.orders.limit_m, self.orders.band_m
        if tcpa is None:
            return Threat(False, True)
        if slack > 0.0 and cpa - slack <= limit + band:
            speed = math.hypot(ve, vn)
            if tcpa + slack / speed >= 0.0:
                cpa, tcpa = self._hulls(hull, place, (ve, vn), tcpa, sight)
        elif slack > 0.0:
            cpa = max(0.0, cpa - slack)  # far enough off that the exact gap does not matter
        if tcpa < 0.0:
            return Threat(False, True, None, tcpa)
        return Threat(*self._limits(cpa, tcpa), cpa, tcpa)

    def _hulls(
        self,
        hull: Outline,
        place: tuple[float, float],
        motion: tuple[float, float],
        antenna_tcpa: float,
        sight: Sight,
    ) -> tuple[float, float]:
        cpa, tcpa = hull_approach(sight.hull, hull, *place, *motion)
        if tcpa == 0.0 and antenna_tcpa < 0.0:
            return cpa, antenna_tcpa  # the nearest parts are drawing apart
        return cpa, tcpa

    def _curve(
        self, target: Target, hull: Outline, place: tuple[float, float], sight: Sight
    ) -> Threat | None:
        """The same on the curve that she follows, when she turns."""
        rate = turning(target)
        if rate is None or target.speed_ms is None or target.course_deg is None:
            return None
        assert sight.motion is not None
        cpa, tcpa = curved_approach(*place, sight.motion, target.speed_ms, target.course_deg, rate)
        if tcpa <= 0.0:
            return None
        cpa = max(0.0, cpa - sight.hull.reach_m - hull.reach_m)
        return Threat(*self._limits(cpa, tcpa), cpa, tcpa, curved=True)

    def _limits(self, cpa: float, tcpa: float) -> tuple[bool, bool]:
        limit, band = self.orders.limit_m, self.orders.band_m
        longest = self.orders.tcpa_s or 0.0
        holds = cpa <= limit and tcpa <= longest
        patience = 0.0 if band == 0.0 else TCPA_BAND_S
        return holds, not holds and (cpa > limit + band or tcpa > longest + patience)

    def _of_open(self, picture: Picture, key: str, sight: Sight, now_s: float) -> Verdict | None:
        """An alert stands for one that is out of sight of this rule. None: unknown."""
        target = picture.targets.get(key)
        if target is None:
            if now_s - picture.started_s <= DROP_AFTER_S:
                return None  # after a restart it may be heard again
            return Verdict(subject=Subject(key, "ais", key), holds=False, gone=True)
        place = target.place_at(now_s)
        at = sight.plane(place.lat, place.lon) if place is not None else None
        if place is None or at is None:
            return None
        row = (target, place.lat, place.lon)
        threat = Threat(False, True)
        return self._verdict(row, target.subject, sight, at, threat)

    def _verdict(
        self,
        row: Placed,
        speaks: Subject,
        sight: Sight,
        place: tuple[float, float],
        threat: Threat,
    ) -> Verdict:
        target, lat, lon = row
        facts = sight.facts(target, lat, lon, self.orders.measure)
        facts |= self._forecast(target, sight, place, threat)
        if facts["cpa_m"] is None:
            facts["cpa_m"] = facts["range_m"]
        by_range = self.orders.range_m is not None
        return Verdict(
            subject=speaks,
            holds=threat.holds,
            gone=threat.gone,
            value=facts["range_m"] if by_range else facts["cpa_m"],
            limit=self.orders.limit_m,
            unit="m",
            lat=round(lat, 6),
            lon=round(lon, 6),
            data_at_s=target.placed_s,
            at_once=threat.holds
            and not by_range
            and threat.tcpa_s is not None
            and threat.tcpa_s <= AT_ONCE_S,
            facts=facts,
        )

    def _forecast(
        self, target: Target, sight: Sight, place: tuple[float, float], threat: Threat
    ) -> dict[str, Any]:
        met: Encounter | None = sight.met(target, *place)
        if met is None:
            return {"cpa_m": None, "tcpa_s": None, "passes": "", "curved": False}
        cpa = threat.cpa_m
        hull = target_outline(target) if self.orders.measure == "hull" else POINT
        doubt = cpa_doubt_m(
            target,
            met.range_m,
            threat.tcpa_s,
            sight.now_s,
            own_sigma_m=sight.sigma_m,
            own_speed_ms=math.hypot(*sight.motion) if sight.motion is not None else 0.0,
            hull_doubt_m=hull.doubt_m + sight.hull.doubt_m,
        )
        return {
            "cpa_m": None if cpa is None else round(cpa, 1),
            "tcpa_s": None if threat.tcpa_s is None else round(threat.tcpa_s, 1),
            "cpa_bearing_deg": round(met.cpa_bearing_deg, 1),
            "passes": met.passes,
            "bow_range_m": _round(met.bow_range_m),
            "bow_time_s": _round(met.bow_time_s),
            "uncertainty_m": _figure(doubt),
            "curved": threat.curved,
            "turn_deg_min": turning(target) if threat.curved else None,
        }


def turning(target: Target) -> float | None:
    """Rate of turn worth following, deg/min; None when she holds her course."""
    if target.speed_ms is None or target.speed_ms < TURN_LEAST_MS:
        return None
    told = target.turn_deg_min
    if told is not None:
        return told if abs(told) >= TURN_TOLD else None
    seen = target.bent_deg_min
    return seen if seen is not None and abs(seen) >= TURN_SEEN else None


def _speaks_as(target: Target, open_keys: AbstractSet[str]) -> Subject:
    """A pair goes by the AIS target, unless an alert already stands for the echo."""
    subject = target.subject
    if target.partner in open_keys and target.key not in open_keys:
        assert target.partner is not None
        return msgspec.structs.replace(subject, key=target.partner)
    return subject


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def _figure(value_m: float) -> float:
    """One figure of a doubt says enough: 7, 30, 400."""
    if value_m <= 0.0:
        return 0.0
    step = 10.0 ** math.floor(math.log10(value_m))
    return float(math.ceil(value_m / step) * step)


__all__ = ["Proximity", "ProximityOrders", "Threat", "encounter", "turning"]
