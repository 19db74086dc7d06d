"""What a ship's motion means for own ship: how near she comes and when, straight on or turning.

Both CPA and TCPA must be inside their limits (IMO MSC.192(79) 5.29.1), from hull to hull. A
target that turns is judged on her curve as well as straight on.
"""

from __future__ import annotations

import math
from typing import Any

import msgspec

from ..picture.certainty import cpa_doubt_m
from ..picture.encounter import approach, curved_approach, hull_approach
from ..picture.outline import POINT, Outline, gap, target_outline
from ..picture.targets import Target
from ..words.units import MS_PER_KN
from .proximity_orders import ProximityOrders
from .sight import Sight

TCPA_BAND_S = 60.0
TURN_TOLD = 5.0  # deg/min that a ship says of herself
TURN_SEEN = 20.0  # deg/min from her courses, which are noisier (both our decision)
TURN_LEAST_MS = 3.0 * MS_PER_KN
SPARE_M, SPARE_S = 1.0, 1.0  # for rounding: what is left to the exact reckoning
Point = tuple[float, float]


class Threat(msgspec.Struct, frozen=True, gc=False):
    """What a target's motion means for own ship."""

    holds: bool
    gone: bool
    cpa_m: float | None = None  # None: no nearer than now
    tcpa_s: float | None = None
    curved: bool = False


def threat_of(orders: ProximityOrders, target: Target, place: Point, sight: Sight) -> Threat:
    """place: the target's antenna, metres east and north of own."""
    hull = target_outline(target) if orders.measure == "hull" else POINT
    if orders.range_m is not None:
        return _by_range(orders, orders.range_m, target, hull, place, sight)
    straight = _straight(orders, target, hull, place, sight)
    if math.hypot(*place) > orders.within_m:
        return msgspec.structs.replace(straight, holds=False, gone=True)
    if straight.holds:
        return straight
    curve = _curve(orders, target, hull, place, sight)
    return curve if curve is not None and (curve.holds or not curve.gone) else straight


def surely_clear(
    orders: ProximityOrders,
    target: Target,
    place: Point,
    sight: Sight,
    own_moves_m: float | None = None,
) -> bool:
    """Whether no shape of the two hulls could make a threat of it: most ships, most of the time,
    told by their antennas alone. With `own_moves_m`: whether it will be so until her next report,
    while own antenna moves no farther from here and own motion stays. False says nothing.

    The hulls' least gap is no smaller than the antennas' CPA less both reaches (`slack`). When it
    is first reached the antennas are at most CPA + slack apart, so that at relative speed v it is
    no sooner than TCPA - sqrt(slack (2 CPA + slack)) / v. An own antenna that moves is part of a
    hull that reaches as much farther.
    """
    lasting = own_moves_m is not None
    reach_m = target_outline(target).reach_m if orders.measure == "hull" else 0.0
    slack = sight.hull.reach_m + reach_m + SPARE_M + (own_moves_m or 0.0)
    if orders.range_m is not None:
        return not lasting and math.hypot(*place) - slack > orders.range_m + orders.band_m
    if math.hypot(*place) > orders.within_m:
        return not lasting
    if turning(target) is not None or sight.motion is None:
        return False
    te, tn = target.motion()
    ve, vn = te - sight.motion[0], tn - sight.motion[1]
    cpa, tcpa = approach(*place, ve, vn)
    if tcpa is None or cpa - slack > orders.limit_m + orders.band_m:
        return True
    sooner = math.sqrt(slack * (2.0 * cpa + slack)) / math.hypot(ve, vn) + SPARE_S
    if tcpa + sooner < 0.0:
        return True
    return not lasting and tcpa - sooner > (orders.tcpa_s or 0.0)


def turning(target: Target) -> float | None:
    """Rate of turn worth following, deg/min; None when she holds her course."""
    if target.speed_ms is None or target.speed_ms < TURN_LEAST_MS:
        return None
    told = target.turn_deg_min
    if told is not None:
        return told if abs(told) >= TURN_TOLD else None
    seen = target.bent_deg_min
    return seen if seen is not None and abs(seen) >= TURN_SEEN else None


def forecast(
    orders: ProximityOrders, target: Target, sight: Sight, place: Point, threat: Threat
) -> dict[str, Any]:
    """The figures behind it for texts, each as known; and how far off the CPA may be."""
    met = sight.met(target, *place)
    if met is None:
        return {"cpa_m": None, "tcpa_s": None, "passes": "", "curved": False}
    hull = target_outline(target) if orders.measure == "hull" else POINT
    cpa, tcpa = threat.cpa_m, threat.tcpa_s
    if orders.range_m is not None and met.closing and sight.motion is not None:
        # How near she is now has raised it; what she will do is another figure.
        te, tn = target.motion()
        cpa, tcpa = hull_approach(
            sight.hull, hull, *place, te - sight.motion[0], tn - sight.motion[1]
        )
    doubt = doubt_of(target, met.range_m, tcpa, sight, hull)
    if threat.curved and cpa is not None:
        # Whether she goes on turning nobody knows: what she does lies between the two.
        doubt = max(doubt, abs(met.cpa_m - cpa) / 2)
    return {
        "cpa_m": None if cpa is None else round(cpa, 1),
        "tcpa_s": None if tcpa is None else round(tcpa, 1),
        "cpa_bearing_deg": round(met.cpa_bearing_deg, 1),
        "passes": met.passes,
        "bow_range_m": _round(met.bow_range_m),
        "bow_time_s": _round(met.bow_time_s),
        "uncertainty_m": one_figure(doubt),
        "curved": threat.curved,
        "turn_deg_min": turning(target) if threat.curved else None,
    }


def doubt_of(
    target: Target, range_m: float, tcpa_s: float | None, sight: Sight, hull: Outline
) -> float:
    """How far off a CPA may be (two sigma, m)."""
    return cpa_doubt_m(
        target,
        range_m,
        tcpa_s,
        sight.now_s,
        own_sigma_m=sight.sigma_m,
        own_speed_ms=math.hypot(*sight.motion) if sight.motion is not None else 0.0,
        hull_doubt_m=hull.doubt_m + sight.hull.doubt_m,
    )


def one_figure(value_m: float) -> float:
    """One figure of a doubt says enough: 7, 30, 400."""
    if value_m <= 0.0:
        return 0.0
    step = 10.0 ** math.floor(math.log10(value_m))
    return float(math.ceil(value_m / step) * step)


def _by_range(
    orders: ProximityOrders,
    limit_m: float,
    target: Target,
    hull: Outline,
    place: Point,
    sight: Sight,
) -> Threat:
    met = sight.met(target, *place)
    near = gap(sight.hull, hull, *place)
    holds, gone = near <= limit_m, near > limit_m + orders.band_m
    gone = gone or (orders.band_m == 0.0 and not holds)
    return Threat(holds, gone, near, None if met is None else met.tcpa_s)


def _straight(
    orders: ProximityOrders, target: Target, hull: Outline, place: Point, sight: Sight
) -> Threat:
    assert sight.motion is not None  # the rule has asked for it
    te, tn = target.motion()
    ve, vn = te - sight.motion[0], tn - sight.motion[1]
    cpa, tcpa = approach(*place, ve, vn)
    if tcpa is None:
        return Threat(False, True)
    slack = sight.hull.reach_m + hull.reach_m
    if slack > 0.0 and cpa - slack <= orders.limit_m + orders.band_m:
        if tcpa + slack / math.hypot(ve, vn) >= 0.0:
            cpa, tcpa = _hulls(hull, place, (ve, vn), tcpa, sight)
    elif slack > 0.0:
        cpa = max(0.0, cpa - slack)  # far enough off that the exact gap does not matter
    if tcpa < 0.0:
        return Threat(False, True, None, tcpa)
    return Threat(*_limits(orders, cpa, tcpa), cpa, tcpa)


def _hulls(
    hull: Outline, place: Point, motion: Point, antenna_tcpa: float, sight: Sight
) -> tuple[float, float]:
    cpa, tcpa = hull_approach(sight.hull, hull, *place, *motion)
    if tcpa == 0.0 and antenna_tcpa < 0.0:
        return cpa, antenna_tcpa  # the nearest parts are drawing apart
    return cpa, tcpa


def _curve(
    orders: ProximityOrders, target: Target, hull: Outline, place: Point, sight: Sight
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
    return Threat(*_limits(orders, cpa, tcpa), cpa, tcpa, curved=True)


def _limits(orders: ProximityOrders, cpa: float, tcpa: float) -> tuple[bool, bool]:
    """(holds, gone)"""
    limit, band = orders.limit_m, orders.band_m
    longest = orders.tcpa_s or 0.0
    holds = cpa <= limit and tcpa <= longest
    patience = 0.0 if band == 0.0 else TCPA_BAND_S
    return holds, not holds and (cpa > limit + band or tcpa > longest + patience)


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, 1)
