"""The one door to the anchor mathematics: fixes in, an estimate with an excess out.

Order of work at each fix: position filter, then from the antenna to the bow, then the reach of
the rode for the pull of now, then how far the bow lies beyond every plausible anchor's rode.
Every half minute the mean place of the bow becomes evidence of where the anchor is, but only
after three more minutes without a doubt.

Inputs may be missing at any step; what is missing widens the reach or leaves evidence out, and
is named in the estimate. x and y are metres east and north of the mark.
"""

from collections import deque
from math import cos, hypot, radians, sin

from .anchor_belief import AnchorBelief
from .excess import Statistic, excess_m
from .fix_filter import FixFilter
from .records import Block, Estimate
from .rode import (
    MIXED_WEIGHT_SHARE,
    chain_weight_n_per_m,
    compliance_m_per_n,
    lifted_m,
    reach_m,
    taut_reach_m,
    usual_chain_m,
)
from .setting import AnchorSetting
from .windage import PullGauge

BLOCK_S = 60.0
HELD_BACK_S = 180.0
DOUBTED_M = 3.0
DOUBTED_SHARE = 0.1
FRICTION = 0.8  # of chain on the bottom; 0.6 to 1.0 in mooring practice, from memory
HEADING_HOLD_S = 10.0
GAP_S = 30.0
TAUT_FROM = 0.25
TAUT_OVER = 0.4


class AnchorEstimator:
    """Feed `step` at each fix, `idle` when there is none; time only goes forward."""

    def __init__(self, setting: AnchorSetting, mark_xy: tuple[float, float] = (0.0, 0.0)) -> None:
        self.setting = setting
        self._filter = FixFilter()
        self._pull = PullGauge(setting.length_m)
        self._statistic = Statistic()
        self._mark_x, self._mark_y = mark_xy
        self._belief = AnchorBelief()
        self._waiting: deque[Block] = deque()
        self._heading: tuple[float, float, float] | None = None  # time, sin, cos
        self._heading_mean = [0.0, 0.0]
        self._depth: float | None = None
        self._depth_s = -1e9
        self._block_from_s: float | None = None
        self._block = [0.0, 0.0, 0.0, 0.0, 0.0]  # n, x, y, worst excess, cos off the wind
        self._highest: tuple[float, ...] = ()
        self._usual: tuple[float, ...] = ()
        self._taut = 0.0
        self._reach_key: tuple[int, int] | None = None
        self._reach_s = -1e9
        self._used: tuple[str, ...] = ()
        self._missing: tuple[str, ...] = ()
        self._t_s = 0.0
        self._last: Estimate | None = None
        self._lever = hypot(
            setting.antenna_aft_m if setting.antenna_aft_m is not None else 0.8 * setting.length_m,
            setting.antenna_starboard_m,
        )

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
        if sog_ms is None:
            east = north = None
        elif cog_deg is None:
            east, north = (0.0, 0.0) if sog_ms < 0.3 else (None, None)
        else:
            course = radians(cog_deg)
            east, north = sog_ms * sin(course), sog_ms * cos(course)
        fresh = self._t_s
        gap = t_s - fresh if self._last is not None else 0.0
        self._t_s = t_s
        self._filter.step(t_s, x_m, y_m, east, north, hdop)
        if heading_deg is not None:
            angle = radians(heading_deg)
            self._heading = (t_s, sin(angle), cos(angle))
        if wind_ms is not None:
            self._pull.feed(t_s, wind_ms, wind_from_true_deg)
        if depth_m is not None:
            gain = 1.0 if self._depth is None or t_s - self._depth_s > 600.0 else 0.05
            self._depth = (
                depth_m if self._depth is None else self._depth + gain * (depth_m - self._depth)
            )
            self._depth_s = t_s
        if gap > GAP_S and gap > 4.0 * self._filter.gap_s:
            self._statistic.clear()
        return self._judge(t_s)

    def _bow(self, t_s: float) -> tuple[float, float, bool]:
        """(x, y, by heading): the bow, or the antenna when the heading is not known."""
        fix = self._filter
        heading = self._heading
        if heading is None or t_s - heading[0] > HEADING_HOLD_S:
            return fix.x_m, fix.y_m, False
        aft = self.setting.antenna_aft_m
        ahead = aft if aft is not None else 0.8 * self.setting.length_m
        side = self.setting.antenna_starboard_m
        _, s, c = heading
        return fix.x_m + ahead * s - side * c, fix.y_m + ahead * c + side * s, True

    def _reckon_reaches(self, t_s: float, heading: bool) -> None:
        """Reaches by rode hypothesis for the pull and depth of now, at most each five seconds."""
        if t_s - self._reach_s < 5.0:
            return
        self._reach_s = t_s
        setting, pull = self.setting, self._pull
        used: list[str] = ["position"]
        missing: list[str] = []
        (used if self._filter.doppler else missing).append("speed")
        (used if heading else missing).append("heading")
        wind_known = pull.known(t_s)
        (used if wind_known else missing).append("wind")
        sounded = self._depth is not None and t_s - self._depth_s < 600.0
        (used if sounded else missing).append("depth")
        self._used, self._missing = tuple(used), tuple(missing)
        length = setting.rode_m if setting.rode_m is not None else 40.0
        if sounded and self._depth is not None:
            height = setting.bow_height_m + self._depth
        elif setting.depth_m is not None:
            height = setting.bow_height_m + setting.depth_m
        else:
            height = setting.bow_height_m + 3.0
        size = setting.chain_size_m or usual_chain_m(setting.length_m)
        weight = chain_weight_n_per_m(size)
        high_n = pull.highest_pull_n(t_s)
        usual_n = pull.usual_pull_n() if wind_known else 0.0
        give = compliance_m_per_n(setting)
        lever = 0.0 if heading else self._lever
        mixed = setting.rode_kind == "mixed"
        highest: list[float] = []
        usual: list[float] = []
        for scale in self._belief.scales:
            scaled = scale * length
            if mixed:
                top = taut_reach_m(scaled, height)
                low_weight = weight * MIXED_WEIGHT_SHARE
            else:
                top = reach_m(high_n, scaled, weight, height)
                low_weight = weight
            highest.append(top + give * high_n + lever)
            usual.append(reach_m(usual_n, scaled, low_weight, height) + 0.85 * lever)
        self._highest, self._usual = tuple(highest), tuple(usual)
        self._taut = 0.0
        if usual_n > 0.0:
            low_weight = weight * (MIXED_WEIGHT_SHARE if mixed else 1.0)
            lying = max(0.0, length - lifted_m(usual_n, low_weight, height))
            needed = FRICTION * low_weight * lying + 60.0
            self._taut = min(1.0, max(0.0, (usual_n / needed - TAUT_FROM) / TAUT_OVER))

    def _judge(self, t_s: float) -> Estimate:
        fix, belief = self._filter, self._belief
        x, y, heading = self._bow(t_s)
        self._reckon_reaches(t_s, heading)
        raw = excess_m(belief.candidates, x, y, self._highest)
        scaled = raw / fix.scale
        statistic = self._statistic.feed(t_s, scaled, x, y, belief.mean_x_m, belief.mean_y_m)
        self._gather(t_s, x, y, raw, heading)
        from_mark = hypot(x, y)
        top = self._highest[1]
        self._last = Estimate(
            t_s=t_s,
            valid=fix.started,
            excess_m=statistic,
            raw_excess_m=raw,
            net_m=from_mark - top - 35.0,
            circle_m=from_mark - top,
            anchor_x_m=belief.mean_x_m,
            anchor_y_m=belief.mean_y_m,
            anchor_sigma_m=belief.sigma_m,
            bow_x_m=x,
            bow_y_m=y,
            from_mark_m=from_mark,
            from_anchor_m=hypot(x - belief.mean_x_m, y - belief.mean_y_m),
            highest_reach_m=top,
            usual_reach_m=self._usual[1],
            outward_m=self._statistic.outward_m,
            outward_ms=self._statistic.outward_ms,
            fix_sigma_m=fix.sigma_m,
            fix_age_s=fix.age_s(t_s),
            hdop=fix.scale * 0.9,
            used=self._used,
            missing=self._missing,
        )
        return self._last

    def _gather(self, t_s: float, x: float, y: float, raw: float, heading: bool) -> None:
        """Means over half a minute; blocks that have waited long enough become evidence."""
        if self._block_from_s is None or t_s - self._block_from_s > 3.0 * BLOCK_S + 60.0:
            self._block_from_s = t_s
            self._block = [0.0, 0.0, 0.0, 0.0, 0.0]
        block = self._block
        if self._filter.accepted:
            block[0] += 1.0
            block[1] += x
            block[2] += y
            if raw > block[3]:
                block[3] = raw
            if heading and self._heading is not None:
                self._heading_mean[0] += self._heading[1]
                self._heading_mean[1] += self._heading[2]
        span = t_s - self._block_from_s
        if span < BLOCK_S:
            return
        if block[0] > 0.0:
            self._waiting.append(self._close_block(t_s, span))
        self._block_from_s = t_s
        self._block = [0.0, 0.0, 0.0, 0.0, 0.0]
        self._heading_mean = [0.0, 0.0]
        waiting = self._waiting
        if waiting and waiting[0].t_s <= t_s - HELD_BACK_S:
            ready = waiting.popleft()
            worst = max(ready.excess_m, raw)
            self._belief.learn(ready, DOUBTED_SHARE if worst > DOUBTED_M else 1.0)

    def _close_block(self, t_s: float, span: float) -> Block:
        n, sx, sy, worst, _ = self._block
        taut = self._taut
        ahead: tuple[float, float] | None = None
        wind = self._pull.towards_wind
        hs, hc = self._heading_mean
        size = hypot(hs, hc)
        if size > 0.5 * n:
            ahead = (hs / size, hc / size)
            if wind is not None and taut > 0.0:
                strength = hypot(*wind)
                facing = (wind[0] * ahead[0] + wind[1] * ahead[1]) / max(strength, 1e-6)
                if facing < 0.7:
                    taut = 0.0
        elif wind is not None:
            strength = hypot(*wind)
            if strength > 0.7:
                ahead = (wind[0] / strength, wind[1] / strength)
        return Block(
            t_s=t_s, span_s=min(span, 2.0 * BLOCK_S), x_m=sx / n, y_m=sy / n,
            highest=self._highest, usual=self._usual, taut=taut, ahead=ahead, excess_m=worst,
            scale=self._filter.scale,
        )  # fmt: skip

    def idle(self, t_s: float) -> Estimate | None:
        """No fix now: nothing is judged; the last estimate stands with its age."""
        self._filter.idle(t_s)
        return self._last
