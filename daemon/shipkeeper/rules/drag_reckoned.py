"""Drag by reckoning: the picture goes into the anchor mathematics, a verdict comes out.

Holds the estimator for the mark that is set, follows the mark when it is moved or rode is
veered, and keeps its state over restarts. A net about the mark, wider than the limit, is looked
at besides: no belief of where the anchor is can widen it.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import msgspec

from ..picture.watch import AnchorMark
from ..words.alert import OWN_SHIP
from ..words.geo import LatLon, east_north, offset, plane_bearing
from ..words.orders import Vessel
from ..words.verdict import NOTHING, Judgement, Verdict
from .anchoring.estimator import AnchorEstimator
from .anchoring.excess import LowWater
from .anchoring.records import Estimate
from .anchoring.setting import AnchorSetting
from .drag_odds import limit_m
from .drag_telling import explain_lines

if TYPE_CHECKING:
    from ..picture.picture import Picture

NET_BEYOND_M = 25.0  # the net stands this far outside the limit
NET_DWELL_S = 20.0
EARLY_SHARE = 0.67  # of a margin given outright
SPEED_OLD_S = 3.0
HOLD_S = 5.0  # a fix that skips a few seconds is no blindness yet
HOLDS_AFTER_S = 300.0  # not farther for so long: the anchor holds again
WORSE_TIMES = 3.0


class Limits(msgspec.Struct, frozen=True, kw_only=True):
    """What the orders say of when to call."""

    margin_m: float | None
    nights: float
    early_nights: float
    priority: str
    early: str  # warning | caution | none
    odds: str
    dwell_s: float

    def alarm_m(self, missing: tuple[str, ...]) -> float:
        """Excess (m) that is an alarm."""
        return self.margin_m if self.margin_m is not None else limit_m(self.nights, missing)

    def said_odds(self, early: bool) -> str:
        """How seldom a boat that holds comes so far; '' under a margin given outright."""
        return f"once in {self.early_nights:.0f} nights" if early and self.odds else self.odds

    def early_m(self, missing: tuple[str, ...]) -> float:
        """Excess (m) that is told already."""
        if self.early == "none":
            return self.alarm_m(missing)
        if self.margin_m is not None:
            return EARLY_SHARE * self.margin_m
        return min(limit_m(self.early_nights, missing), self.alarm_m(missing))


class Then(msgspec.Struct, frozen=True):
    """Wind and depth when the watch was set, to tell what has changed."""

    wind_ms: float | None = None
    depth_m: float | None = None


class Kept(msgspec.Struct, frozen=True, kw_only=True):
    """What is left for the next run."""

    watch: str
    mark: AnchorMark
    origin: LatLon  # zero of the estimator's plane: the mark as it was first set
    then: Then
    estimator: bytes


class Reckoned:
    """One for each drag rule; see the module's first lines."""

    def __init__(self, limits: Limits, vessel: Vessel) -> None:
        self.limits = limits
        self.vessel = vessel
        self.estimator: AnchorEstimator | None = None
        self._mark: AnchorMark | None = None
        self._origin = LatLon(0.0, 0.0)
        self._watch = ""
        self._net = LowWater(NET_DWELL_S)
        self._netted_m = 0.0
        self._fed_s, self._fix = -math.inf, LatLon(0.0, 0.0)
        self._last: Estimate | None = None
        self._then = Then()
        self._kept: Kept | None = None
        self._raised = False  # something held, and is not gone

    def judge(self, picture: Picture, now_s: float) -> Judgement:
        """Feed the newest fix, if there is one, and say what holds."""
        mark = picture.watch.mark
        if mark is None:
            return NOTHING
        estimator = self.follow(picture)
        reading = picture.own.position.get(now_s)
        if reading is None:
            estimator.idle(now_s)
            if self._last is None or now_s - self._fed_s > HOLD_S:
                return Judgement(missing=("position",))
            return Judgement((self._verdict(picture, self._last, self._fix, self._fed_s, now_s),))
        if reading.at_s > self._fed_s:
            gap_s = reading.at_s - self._fed_s
            self._last = self._feed(estimator, picture, reading.at_s, reading.source, reading.value)
            if gap_s > 3 * NET_DWELL_S:
                self._net.clear()
            self._fed_s, self._fix = reading.at_s, reading.value
        if self._last is None:
            return Judgement(missing=("position",))
        return Judgement((self._verdict(picture, self._last, reading.value, reading.at_s, now_s),))

    def follow(self, picture: Picture) -> AnchorEstimator:
        """The estimator for the mark as it is set now."""
        watch = picture.watch
        mark, old = watch.mark, self._mark
        assert mark is not None
        estimator = self.estimator
        if estimator is not None and mark is old:
            return estimator
        if estimator is None and self._kept is not None and self._take_up(self._kept, picture):
            estimator, old = self.estimator, self._mark
        self._kept = None
        if (
            estimator is None
            or old is None
            or mark.set_at_s != old.set_at_s
            or watch.watch != self._watch
        ):
            estimator = AnchorEstimator(
                self._setting(watch.watch, mark), dwell_s=self.limits.dwell_s
            )
            self._origin = mark.place
            self._then = Then()
            self._last = None
            self._net.clear()
        else:
            if mark.place != old.place:
                estimator.move(east_north(self._origin, mark.place))
                self._net.clear()
            if (mark.rode_m, mark.depth_m, mark.rise_m) != (old.rode_m, old.depth_m, old.rise_m):
                estimator.veer(mark.rode_m, mark.depth_m, mark.rise_m)
        self.estimator, self._mark, self._watch = estimator, mark, watch.watch
        return estimator

    def explain(self, picture: Picture, now_s: float) -> list[str]:
        """Lines on the swing circle, for the answer to `anchor`."""
        if picture.watch.mark is None:
            return []
        fresh = self.estimator is None
        estimator = self.follow(picture)
        self.judge(picture, now_s)
        missing = estimator.reaches.missing
        if fresh and picture.own.velocity.get(now_s) is not None:
            # One fix tells nothing yet of how good the speed is.
            missing = tuple([name for name in missing if name != "speed"])
        offered = estimator.offered_mark
        place = None if offered is None else self._place(*offered)
        limit = self.limits.alarm_m(self._missing())
        return explain_lines(
            estimator, picture.watch, limit, self.limits.odds, self.limits.dwell_s, missing, place
        )

    def weighty(self) -> object:
        """Of a belief that began within the last half hour nothing is kept yet: without it what
        was told of her would be over with the first fixes after a power cut."""
        return self._raised, None if self._last is None else self._last.astray_since_s

    def remember(self) -> bytes | None:
        """Mark and estimator; None before a mark was set."""
        if self._kept is not None and self.estimator is None:
            return msgspec.msgpack.encode(self._kept)  # never taken up yet: keep it as it is
        if self.estimator is None or self._mark is None:
            return None
        return msgspec.msgpack.encode(
            Kept(
                watch=self._watch,
                mark=self._mark,
                origin=self._origin,
                then=self._then,
                estimator=self.estimator.snapshot(),
            )
        )

    def recall(self, state: bytes) -> None:
        """Taken up at the first judgement, if the mark is still the same."""
        try:
            self._kept = msgspec.msgpack.decode(state, type=Kept)
        except ValueError:  # msgspec's own errors, and text that is not UTF-8
            self._kept = None

    def _take_up(self, kept: Kept, picture: Picture) -> bool:
        mark = picture.watch.mark
        if mark is None or kept.watch != picture.watch.watch or kept.mark.set_at_s != mark.set_at_s:
            return False
        estimator = AnchorEstimator(
            self._setting(kept.watch, kept.mark), dwell_s=self.limits.dwell_s
        )
        if not estimator.restore(kept.estimator):
            return False
        self.estimator, self._mark, self._watch = estimator, kept.mark, kept.watch
        self._origin, self._then = kept.origin, kept.then
        return True

    def _setting(self, watch: str, mark: AnchorMark) -> AnchorSetting:
        vessel, antenna = self.vessel, self.vessel.antenna
        side = None if antenna is None else antenna.from_port_m
        return AnchorSetting(
            kind=watch,
            rode_m=mark.rode_m,
            depth_m=mark.depth_m,
            rise_m=mark.rise_m,
            bow_height_m=vessel.bow_height_m or 0.0,
            length_m=vessel.length_m,
            beam_m=vessel.beam_m,
            rode_kind=vessel.rode or "chain",
            chain_size_m=vessel.chain_size_m,
            antenna_aft_m=None if antenna is None else antenna.from_bow_m,
            antenna_starboard_m=0.0 if side is None else side - 0.5 * vessel.beam_m,
            how_marked=mark.how,
        )

    def _feed(
        self, estimator: AnchorEstimator, picture: Picture, at_s: float, source: str, fix: LatLon
    ) -> Estimate:
        own = picture.own
        east, north = east_north(self._origin, fix)
        velocity = own.velocity.of(source, at_s) or own.velocity.get(at_s)
        speed = course = None
        if velocity is not None and abs(at_s - velocity.at_s) <= SPEED_OLD_S:
            speed, course = velocity.value.speed_ms, velocity.value.course_deg
        quality = own.quality.of(source, at_s)
        wind = own.wind_over_ground(at_s, at_rest=True)
        depth = picture.water_m(at_s)
        if self._then == Then() and (wind is not None or depth is not None):
            self._then = Then(None if wind is None else wind[0], depth)
        estimate = estimator.step(
            at_s,
            east,
            north,
            speed,
            course,
            None if quality is None else quality.value.hdop,
            own.heading_deg(at_s),
            None if wind is None else wind[0],
            None if wind is None else wind[1],
            depth,
        )
        self._netted_m = self._net.feed(at_s, estimate.circle_m)
        return estimate

    def _missing(self) -> tuple[str, ...]:
        return self._last.missing if self._last is not None else ("wind", "speed")

    def _verdict(
        self, picture: Picture, estimate: Estimate, fix: LatLon, at_s: float, now_s: float
    ) -> Verdict:
        limits, excess = self.limits, estimate.excess_m
        alarm, early = limits.alarm_m(estimate.missing), limits.early_m(estimate.missing)
        netted = self._netted_m > alarm + NET_BEYOND_M
        astray = estimate.astray_since_s is not None
        early_only = not netted and excess <= alarm
        shown = max(excess, self._netted_m - NET_BEYOND_M) if netted else excess
        holds = netted or excess > early
        gone = not astray and not netted and excess <= 0.5 * early
        self._raised = holds or (self._raised and not gone)
        return Verdict(
            subject=OWN_SHIP,
            holds=holds,
            gone=gone,
            value=round(shown, 1),
            limit=round(alarm, 1),
            unit="m",
            lat=fix.lat,
            lon=fix.lon,
            data_at_s=at_s,
            at_once=holds,  # the dwell is in the excess already
            worse=holds and excess > WORSE_TIMES * alarm,
            priority=(limits.early if early_only else limits.priority) if holds else None,
            facts=self._facts(picture, estimate, fix, now_s, netted, early_only),
        )

    def _facts(
        self,
        picture: Picture,
        e: Estimate,
        fix: LatLon,
        now_s: float,
        netted: bool,
        early_only: bool,
    ) -> dict[str, Any]:
        mark = picture.watch.mark
        assert mark is not None
        east, north = east_north(mark.place, fix)
        anchor = self._place(e.anchor_x_m, e.anchor_y_m)
        out_deg = plane_bearing(e.bow_x_m - e.anchor_x_m, e.bow_y_m - e.anchor_y_m)
        wind = picture.own.wind_over_ground(now_s, at_rest=True)
        depth = picture.water_m(now_s)
        holding = e.astray_since_s is not None and e.still_s >= HOLDS_AFTER_S
        beyond = max(e.raw_excess_m, e.circle_m) if netted else e.raw_excess_m
        facts: dict[str, Any] = {
            "mode": "net" if netted else "reckoned",
            "only_early": early_only,
            "event": "holding" if holding else "dragging",
            "distance_m": math.hypot(east, north),
            "bearing_deg": plane_bearing(east, north),
            "excess_m": beyond,
            "lasting_m": e.excess_m,
            "moved_m": beyond,
            "reach_m": e.highest_reach_m,
            "usual_reach_m": e.usual_reach_m,
            "anchor_lat": anchor.lat,
            "anchor_lon": anchor.lon,
            "anchor_sigma_m": e.anchor_sigma_m,
            "from_anchor_m": e.from_anchor_m,
            "anchor_bearing_deg": out_deg,
            "hdop": e.hdop,
            "fix_age_s": e.fix_age_s,
            "wind_ms": None if wind is None else wind[0],
            "wind_was_ms": self._then.wind_ms,
            "depth_m": depth,
            "depth_was_m": self._then.depth_m,
            "missing": list(e.missing),
            "odds": self.limits.said_odds(early_only),
            "since_s": e.astray_since_s,
        }
        if e.outward_m > 2.0 and e.outward_ms > 0.02:
            facts |= {
                "made_good_m": e.outward_m,
                "made_good_deg": out_deg,
                "speed_ms": e.outward_ms,
            }
        return facts

    def _place(self, x_m: float, y_m: float) -> LatLon:
        return offset(self._origin, plane_bearing(x_m, y_m), math.hypot(x_m, y_m))
