"""How far beyond every plausible anchor's rode the boat lies, and for how long.

Excess is the least of sqrt(d^2 + sb^2 E) over all entries of the belief: d metres beyond the
reach from there, E the energy against that entry. With one certain anchor it is the plain
distance beyond the reach; a doubtful place costs sb for each standard deviation of doubt.

The statistic is the lasting part: the least excess of the last half minute, with a bonus for
slow way outward (slow_way.py); or sooner, the least of six seconds with a bonus for quick way
outward, or for way astern with the bow to the wind (stern_way.py). So a single wild fix is
nothing.
"""

from collections import deque
from math import inf, sqrt

from .fix_filter import FixFilter
from .slow_way import SlowWay

DOUBT_M = 1.5
DWELL_S = 30.0
_QUICK_S = 6.0
_QUICK_TOLL_M = 2.0
_OUTWARD_S = 40.0
_OUTWARD_FREE_M = 4.0
_OUTWARD_GAIN = 0.5
_OUTWARD_MOST_M = 6.0
_SLOW_FROM = 4.0  # excess, before slow way counts
_SLOW_FREE_M = 3.0  # the fix may wander so far in some minutes
_SLOW_MOST_M = 10.0
_SLOW_BLIND = 0.5  # of the excess, when no wind is known
_BLIND_S = 120.0  # slow way by fixes alone must show so long: multipath is gone by then
_STERN_FROM = 2.0  # excess, before way astern counts
_STERN_FREE_M = 4.0
_STERN_GAIN = 2.0
_STERN_MOST_M = 8.0
_SAILED_M = 3.0  # outward by Doppler in that time, or there is no quick verdict


def excess_m(
    candidates: list[tuple[float, float, float, int]],
    x_m: float,
    y_m: float,
    reaches: tuple[float, ...],
) -> float:
    """Metres beyond every plausible rode. Candidates (energy, x, y, rode) in rising energy."""
    best = 1e12
    doubt = DOUBT_M * DOUBT_M
    for energy, x, y, k in candidates:
        floor = doubt * energy
        if floor >= best:
            break
        dx, dy = x_m - x, y_m - y
        over = sqrt(dx * dx + dy * dy) - reaches[k]
        value = floor + over * over if over > 0.0 else floor
        if value < best:
            best = value
    return sqrt(best)


def slow_bonus_m(excess: float, outward_m: float, scale: float, wind: bool) -> float:
    """What slow way outward (m) adds to an excess; nothing while she lies within reach.

    Without wind a breeze that gets up unseen may be what sends her out: it counts for less.
    """
    if excess <= _SLOW_FROM:
        return 0.0
    way = outward_m / max(scale, 1.0) - _SLOW_FREE_M
    return min(max(way, 0.0), excess if wind else _SLOW_BLIND * excess, _SLOW_MOST_M)


def stern_bonus_m(excess: float, astern_m: float) -> float:
    """What way astern, bow to the wind (m), adds to an excess: at most as much again; nothing
    while she lies within reach."""
    if excess <= _STERN_FROM:
        return 0.0
    way = _STERN_GAIN * (astern_m - _STERN_FREE_M)
    return min(max(way, 0.0), excess, _STERN_MOST_M)


class LowWater:
    """The least value of the last `span_s` seconds, and whether it covers them.

    A value stands until the next one, so the one that stood when the span began counts: where
    fixes are rarer than the span, or after a silence, one or two alone must not decide.
    """

    __slots__ = ("_from_s", "_rising", "_span_s")

    def __init__(self, span_s: float) -> None:
        self._span_s = span_s
        self._rising: deque[list[float]] = deque()  # until when it stood, value
        self._from_s: float | None = None

    def clear(self) -> None:
        """Start anew, after a gap."""
        self._rising.clear()
        self._from_s = None

    def feed(self, t_s: float, value: float) -> float:
        """The least of the last span with this value; zero until the span is covered."""
        rising, began_s = self._rising, t_s - self._span_s
        if self._from_s is None:
            self._from_s = t_s
        if rising:
            rising[-1][0] = t_s
        while rising and rising[-1][1] >= value:
            rising.pop()
        rising.append([inf, value])
        while rising[0][0] <= began_s:
            rising.popleft()
        if self._from_s > began_s or t_s == self._from_s:
            return 0.0
        return rising[0][1]


class Trail:
    """Past places of the bow and way by Doppler, one a second at most, to ask what was made
    good since."""

    __slots__ = ("_points", "_span_s")

    def __init__(self, span_s: float = _OUTWARD_S) -> None:
        self._span_s = span_s
        self._points: deque[tuple[float, float, float, float, float]] = deque()

    def clear(self) -> None:
        """Forget, after a gap."""
        self._points.clear()

    def feed(self, t_s: float, x_m: float, y_m: float, run_x_m: float, run_y_m: float) -> None:
        """Add the place of now, and the sum of the Doppler way so far."""
        points = self._points
        if points and t_s - points[-1][0] < 0.95:
            return
        points.append((t_s, x_m, y_m, run_x_m, run_y_m))
        while points[0][0] < t_s - self._span_s:
            points.popleft()

    def oldest(self) -> tuple[float, float, float, float, float] | None:
        """(time, x, y, run x, run y) at the far end; None when nothing was fed."""
        return self._points[0] if self._points else None


class Statistic:
    """Excess over time made into the one number that is compared with a threshold.

    Multipath carries fixes off in seconds, but hardly the Doppler speed. So the quick verdict
    and its bonus need both to go outward, and without Doppler there is none.
    """

    __slots__ = ("_blind", "_dwell", "_quick", "_run_x", "_run_y", "_stern", "_t_s", "_trail",
                 "outward_m", "outward_ms", "slow")  # fmt: skip

    def __init__(self, dwell_s: float = DWELL_S) -> None:
        self._dwell = LowWater(dwell_s)
        self._blind = LowWater(max(_BLIND_S, dwell_s))
        self.slow = SlowWay()
        self._quick = LowWater(min(_QUICK_S, dwell_s))
        self._stern = LowWater(min(_QUICK_S, dwell_s))
        self._trail = Trail()
        self._t_s = self._run_x = self._run_y = 0.0
        self.outward_m = 0.0
        self.outward_ms = 0.0

    def clear(self) -> None:
        """After a gap nothing is known to have lasted."""
        self._dwell.clear()
        self._blind.clear()
        self.slow.clear()
        self._quick.clear()
        self._stern.clear()
        self._trail.clear()
        self.outward_m = self.outward_ms = 0.0

    def feed(
        self,
        t_s: float,
        excess: float,
        x_m: float,
        y_m: float,
        from_x: float,
        from_y: float,
        fix: FixFilter,
        usual_m: float,
        wind: bool,
        astern_m: float,
    ) -> float:
        """The statistic (m); (from_x, from_y) is the estimated anchor, to tell what is outward,
        `usual_m` how far from it she usually lies, `wind` whether that is known, `astern_m` the
        way made good astern."""
        way_ms = fix.way_ms
        self.slow.feed(t_s, x_m, y_m, way_ms, fix.accepted, (from_x, from_y), usual_m)
        if way_ms is not None:
            dt = min(t_s - self._t_s, 12.0)
            self._run_x += way_ms[0] * dt
            self._run_y += way_ms[1] * dt
        self._t_s = t_s
        self._trail.feed(t_s, x_m, y_m, self._run_x, self._run_y)
        sailed_m = self._made_good(t_s, x_m - from_x, y_m - from_y, from_x, from_y)
        lasting = self._lasting(t_s, excess, fix, wind)
        bonus = 0.0
        both = min(self.outward_m, sailed_m)
        if excess > 1.0 and both > _OUTWARD_FREE_M:
            bonus = min(_OUTWARD_GAIN * (both - _OUTWARD_FREE_M), _OUTWARD_MOST_M)
        quick = self._quick.feed(t_s, excess - _QUICK_TOLL_M + bonus)
        stern = stern_bonus_m(excess, astern_m)
        held = self._stern.feed(t_s, excess + stern if stern > 0.0 else 0.0)
        most = lasting if lasting > held else held
        if way_ms is None or sailed_m < _SAILED_M:
            return most
        return most if most > quick else quick

    def outward(self) -> tuple[float, float]:
        """(m, m/s) made good outward: of the last 40 s, or of some minutes when that is more."""
        slow = self.slow
        if slow.by_fix_m > max(self.outward_m, _SLOW_FREE_M):
            return slow.by_fix_m, max(self.outward_ms, slow.by_fix_m / slow.span_s)
        return self.outward_m, self.outward_ms

    def _lasting(self, t_s: float, excess: float, fix: FixFilter, wind: bool) -> float:
        """Excess and slow way over the dwell; without Doppler, over a longer one besides."""
        slow = self.slow
        # By fixes alone only where the wind says that it does not stretch her rode.
        alone_m = slow.by_fix_m if wind and not slow.jumped else 0.0
        by_fix = slow_bonus_m(excess, alone_m, fix.scale, wind)
        both = slow_bonus_m(excess, slow.by_both_m, fix.scale, wind)
        blind = self._blind.feed(t_s, excess + by_fix)
        lasting = self._dwell.feed(t_s, excess + (both if fix.doppler else 0.0))
        return lasting if fix.doppler or lasting > blind else blind

    def _made_good(self, t_s: float, dx: float, dy: float, from_x: float, from_y: float) -> float:
        """Set what was made good outward by the fixes; return what was by Doppler (m)."""
        then = self._trail.oldest()
        self.outward_m = self.outward_ms = 0.0
        if then is None or t_s - then[0] <= 5.0:
            return 0.0
        now_r = sqrt(dx * dx + dy * dy)
        self.outward_m = now_r - sqrt((then[1] - from_x) ** 2 + (then[2] - from_y) ** 2)
        self.outward_ms = self.outward_m / (t_s - then[0])
        if now_r < 1.0:
            return 0.0
        return ((self._run_x - then[3]) * dx + (self._run_y - then[4]) * dy) / now_r
