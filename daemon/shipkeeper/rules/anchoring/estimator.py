"""The one door to the anchor mathematics: fixes in, an estimate with an excess out.

Order of work at each fix: position filter, then from the antenna to the bow, then the reach of
the rode for the pull of now, then how far the bow lies beyond every plausible anchor's rode.
Every minute the mean place of the bow becomes evidence of where the anchor is, but only after
three more minutes without a doubt, and never while she lies where her rode does not let her.

Inputs may be missing at any step; what is missing widens the reach or leaves evidence out, and
is named in the estimate. x and y are metres east and north of the mark; degrees are true.
"""

from math import cos, hypot, radians, sin

import msgspec

from .anchor_belief import SOFT_MOST, SOFT_MOST_BLIND, AnchorBelief, belief_for
from .evidence import Evidence
from .excess import DWELL_S, Statistic, excess_m
from .fix_filter import USUAL_HDOP, FixFilter
from .held_course import HeldCourse
from .holding import Holding
from .reaches import Reaches
from .records import Estimate, Kept
from .setting import AnchorSetting
from .stern_way import SternWay
from .windage import PullGauge

DOUBTED_M = 3.0
DOUBTED_SHARE = 0.1
HEADING_HOLD_S = 10.0
GAP_S = 30.0
OFFER_SIGMA_M = 5.0
AT_REST_M = 12.0  # nearer than this to a mark set 'here', she may lie at full scope from it
AT_REST_AGAINST = 14.0


class AnchorEstimator:
    """Feed `step` at each fix, `idle` when there is none; time only goes forward."""

    def __init__(self, setting: AnchorSetting, *, dwell_s: float = DWELL_S) -> None:
        self.setting = setting
        self._dwell_s = dwell_s
        self._filter = FixFilter()
        self._course = HeldCourse()
        self._pull = PullGauge(setting.length_m)
        self._mark_x = self._mark_y = 0.0
        self._heading: tuple[float, float, float] | None = None  # time, sine, cosine
        self._interval_s = 1.0
        self._last: Estimate | None = None
        self._begin()

    def _begin(self) -> None:
        self._belief: AnchorBelief = belief_for(self.setting)
        self._reaches = Reaches(self.setting, self._belief.scales)
        self._statistic = Statistic(self._dwell_s)
        self._stern = SternWay()
        self._evidence = Evidence()
        self._holding = Holding()
        self._may_be_at_rest = self.setting.how_marked == "here"

    def move(self, mark_xy: tuple[float, float]) -> None:
        """The mark is mended: what was believed of the anchor begins anew about it."""
        self._mark_x, self._mark_y = mark_xy
        self._begin()

    def veer(self, rode_m: float | None, depth_m: float | None = None, rise_m: float = 0.0) -> None:
        """More (or less) rode is out: the reach changes, the belief of the place stays."""
        self.setting = msgspec.structs.replace(
            self.setting,
            rode_m=rode_m,
            depth_m=depth_m if depth_m is not None else self.setting.depth_m,
            rise_m=rise_m,
        )
        self._reaches.take_setting(self.setting)
        self._statistic.clear()
        self._stern.clear()
        self._evidence.drop()
        self._holding = Holding()

    def step(
        self,
        t_s: float,
        x_m: float,
        y_m: float,
        sog_ms: float | None = None,
        cog_deg: float | None = None,
        hdop: float | None = None,
        heading_deg: float | None = None,
        wind_ms: float | None = None,
        wind_from_true_deg: float | None = None,
        depth_m: float | None = None,
    ) -> Estimate:
        """One fix of the antenna with what else is known at that time."""
        last = self._last
        if last is not None:
            gap = t_s - last.t_s
            if gap <= 0.0:
                return last
            if gap > GAP_S and gap > 3.0 * self._interval_s:
                self._statistic.clear()
                self._evidence.clear()
            self._interval_s += 0.2 * (min(gap, 2.0 * self._interval_s + 1.0) - self._interval_s)
        if heading_deg is not None:
            angle = radians(heading_deg)
            self._heading = (t_s, sin(angle), cos(angle))
        if wind_ms is not None:
            self._pull.feed(t_s, wind_ms, wind_from_true_deg)
        if depth_m is not None:
            self._reaches.sound(t_s, depth_m)
        east, north = velocity(sog_ms, self._course.told(t_s, x_m, y_m, sog_ms, cog_deg))
        x, y = x_m - self._mark_x, y_m - self._mark_y
        believed = self._filter.step(t_s, x, y, east, north, hdop)
        pull = self._pull
        self._stern.feed(
            t_s, x, y, (east, north), believed, self._facing(t_s),
            pull.towards_wind if pull.known(t_s) else None, pull.mean_ms,
        )  # fmt: skip
        self._last = estimate = self._judge(t_s)
        return estimate

    def idle(self, t_s: float) -> Estimate | None:
        """No fix now: nothing is judged; the last estimate stands, with its age."""
        self._filter.idle(t_s)
        return self._last

    def _facing(self, t_s: float) -> tuple[float, float] | None:
        """Heading as (sine, cosine); None when it is not known."""
        heading = self._heading
        if heading is None or t_s - heading[0] > HEADING_HOLD_S:
            return None
        return heading[1], heading[2]

    def _bow(self, t_s: float) -> tuple[float, float, tuple[float, float] | None]:
        """(x, y, heading): the bow, or the antenna when the heading is not known."""
        fix, heading, setting = self._filter, self._facing(t_s), self.setting
        if heading is None:
            return fix.x_m, fix.y_m, None
        aft = setting.antenna_aft_m
        ahead = aft if aft is not None else 0.8 * setting.length_m
        side = setting.antenna_starboard_m
        s, c = heading
        return fix.x_m + ahead * s - side * c, fix.y_m + ahead * c + side * s, heading

    def _judge(self, t_s: float) -> Estimate:
        fix, belief, reaches = self._filter, self._belief, self._reaches
        x, y, heading = self._bow(t_s)
        reaches.reckon(t_s, self._pull, heading is not None, fix.doppler)
        raw = excess_m(belief.candidates, x, y, reaches.highest)
        statistic = self._statistic.feed(
            t_s,
            raw / fix.scale,
            x,
            y,
            belief.mean_x_m,
            belief.mean_y_m,
            fix,
            reaches.stretched_m(belief.middle),
            "wind" in reaches.used,
            self._stern.even_m if self.setting.kind != "berthed" else 0.0,
        )
        away = hypot(x - belief.mean_x_m, y - belief.mean_y_m)
        self._holding.feed(t_s, statistic, away)
        if fix.accepted:
            self._evidence.feed(t_s, x, y, heading, raw)
        self._learn(t_s, raw, x, y, heading)
        return self._tell(t_s, statistic, raw, x, y, away)

    def _learn(
        self, t_s: float, raw: float, x: float, y: float, heading: tuple[float, float] | None
    ) -> None:
        block = self._evidence.ripe(t_s, self._reaches, self._pull, self._filter)
        if block is None:
            return
        if self._may_be_at_rest:
            self._allow_at_rest(x, y, heading)
        if self._holding.astray:
            return
        known = self._pull.known(t_s) or self.setting.kind != "anchored"
        self._belief.soft_most = SOFT_MOST if known else SOFT_MOST_BLIND
        doubted = max(block.excess_m, raw) > DOUBTED_M
        self._belief.learn(block, DOUBTED_SHARE if doubted else 1.0)

    def _allow_at_rest(self, x: float, y: float, heading: tuple[float, float] | None) -> None:
        """A mark set 'here' with the boat lying at it: the anchor may be a scope ahead."""
        self._may_be_at_rest = False
        towards = heading
        if towards is None:
            towards = self._pull.towards_wind
        if towards is None or hypot(x, y) > AT_REST_M:
            return
        size = hypot(towards[0], towards[1])
        if size > 0.3:
            far = 0.95 * self._reaches.taut_m()
            self._belief.allow(
                x + far * towards[0] / size, y + far * towards[1] / size, AT_REST_AGAINST
            )

    def _tell(
        self, t_s: float, statistic: float, raw: float, x: float, y: float, away: float
    ) -> Estimate:
        fix, belief, reaches, holding = self._filter, self._belief, self._reaches, self._holding
        from_mark = hypot(x, y)
        at = belief.middle
        outward_m, outward_ms = self._statistic.outward()
        return Estimate(
            t_s=t_s,
            valid=fix.started,
            excess_m=statistic,
            raw_excess_m=raw,
            circle_m=from_mark - reaches.highest[at],
            anchor_x_m=belief.mean_x_m + self._mark_x,
            anchor_y_m=belief.mean_y_m + self._mark_y,
            anchor_sigma_m=belief.sigma_m,
            bow_x_m=x + self._mark_x,
            bow_y_m=y + self._mark_y,
            from_mark_m=from_mark,
            from_anchor_m=away,
            highest_reach_m=reaches.highest[at],
            usual_reach_m=reaches.usual[at],
            outward_m=outward_m,
            outward_ms=outward_ms,
            astray_since_s=holding.since_s,
            still_s=holding.still_s,
            fix_sigma_m=fix.sigma_m,
            fix_age_s=fix.age_s(t_s),
            hdop=fix.scale * USUAL_HDOP,
            used=reaches.used,
            missing=reaches.missing,
        )

    @property
    def offered_mark(self) -> tuple[float, float] | None:
        """A better place for the mark, when the two differ by more than is in doubt."""
        belief = self._belief
        off = hypot(belief.mean_x_m, belief.mean_y_m)
        if self._holding.astray or belief.sigma_m > OFFER_SIGMA_M:
            return None
        if off < 2.5 * belief.sigma_m + 2.0:
            return None
        return belief.mean_x_m + self._mark_x, belief.mean_y_m + self._mark_y

    @property
    def reaches(self) -> Reaches:
        """Reach of the rode as it is reckoned now."""
        return self._reaches

    @property
    def _is_out(self) -> bool:
        return self._last is not None and self._last.raw_excess_m > 0.0

    def snapshot(self) -> bytes:
        """What to keep over a restart: some kilobytes."""
        return msgspec.msgpack.encode(
            Kept(
                filter=self._filter.snapshot(),
                pull=self._pull.snapshot(),
                belief=self._belief.snapshot(),
                extra=self._belief.extra,
                astray_since_s=self._holding.since_s,
                setting=self.setting,
                mark_xy=(self._mark_x, self._mark_y),
                may_be_at_rest=self._may_be_at_rest,
                holds_course=self._course.known,
                # Only while there is something to it: a quiet night's writes are counted.
                slow=self._statistic.slow.snapshot() if self._is_out else (0.0, b""),
            )
        )

    def restore(self, kept: bytes) -> bool:
        """Take up a snapshot; False, and nothing changed, when it cannot be read.

        The time since shows at the next fix as a gap: then where she lies is as unsure as her
        way in that time, but where the anchor is, and that she dragged, is as sure as before.
        """
        try:
            old = msgspec.msgpack.decode(kept, type=Kept)
        except ValueError:  # msgspec's own errors, and text that is not UTF-8
            return False
        belief = belief_for(old.setting)
        if old.extra is not None:
            belief.allow(old.extra[0], old.extra[1], AT_REST_AGAINST)
        if not belief.restore(old.belief):
            return False
        self.setting = old.setting
        self._mark_x, self._mark_y = old.mark_xy
        self._begin()
        self._belief = belief
        self._may_be_at_rest = old.may_be_at_rest
        self._filter.restore(old.filter)
        self._course.known = old.holds_course
        self._pull.restore(old.pull)
        self._holding.resume(old.astray_since_s)
        self._statistic.slow.restore(old.slow)
        return True


def velocity(sog_ms: float | None, cog_deg: float | None) -> tuple[float | None, float | None]:
    """(east, north) m/s. A receiver that shows a small speed leaves the course out."""
    if sog_ms is None:
        return None, None
    if cog_deg is None:
        return (0.0, 0.0) if sog_ms < 0.6 else (None, None)
    course = radians(cog_deg)
    return sog_ms * sin(course), sog_ms * cos(course)
