"""Slow way outward: what she made good away from her anchor, minute by minute, evenly.

A drag of a tenth of a knot hides: however far she has come, an anchor that was all along much
nearer than she seemed to lie explains her place at a fixed price, so the excess comes to a stand.
But a boat that lies already as far out as her rode usually lets her, and goes on outward in one
half of some minutes as in the other, by her fixes and by her Doppler way alike, is going with her
anchor. One that swings out, stretches her rode, or whose fixes wander off does so once.

Counted is only what leads beyond the usual reach: before that, she stretches her rode.
"""

from array import array
from collections import deque
from math import exp, hypot

SPANS_S = (240.0, 480.0)
_STEP_S = 10.0
_LATE_S = 25.0  # a point of the trail may be so much older than asked for
_SMOOTH_S = 15.0
_UPSET_S = 15.0  # a receiver that has just shown a wild fix shows a wild speed for a while
_JUMP_S = 10.0  # refused for longer, then believed: the filter goes over to the new place slowly
_SHORT_OF_USUAL_M = 2.0

Point = tuple[float, float, float, float, float]  # time, place, sum of the Doppler way


class SlowWay:
    """Feed each fix; `by_fix_m` is what was made good outward (m), `by_both_m` of that what the
    Doppler way shows as well: twice the lesser half of the better span.

    `jumped`: fixes have jumped in that time, and what they show may be the filter's own way.
    """

    __slots__ = ("_jumped_until_s", "_points", "_refused_s", "_run_x", "_run_y", "_smooth",
                 "_t_s", "_upset_until_s", "by_both_m", "by_fix_m", "jumped", "span_s",
                 )  # fmt: skip

    def __init__(self) -> None:
        self._points: deque[Point] = deque()
        self.clear()

    def clear(self) -> None:
        """After a gap the way until then is not known."""
        self._points.clear()
        self._smooth: tuple[float, float, float, float] | None = None
        self._t_s = self._run_x = self._run_y = 0.0
        self._upset_until_s = self._jumped_until_s = -1e18
        self._refused_s = 0.0
        self.jumped = False
        self.by_fix_m = self.by_both_m = self.span_s = 0.0

    def snapshot(self) -> tuple[float, bytes]:
        """Time, and the points relative to it and to the Doppler way until then: 1 kB."""
        t, run_x, run_y = self._t_s, self._run_x, self._run_y
        whole = [*self._points]
        if self._smooth is not None:
            whole.append((t, *self._smooth))
        flat = [v for p in whole for v in (p[0] - t, p[1], p[2], p[3] - run_x, p[4] - run_y)]
        return t, array("f", flat).tobytes()

    def restore(self, kept: tuple[float, bytes]) -> None:
        """From `snapshot`; what cannot be read is left aside."""
        self.clear()
        flat = array("f")
        if len(kept[1]) % (5 * flat.itemsize):
            return
        flat.frombytes(kept[1])
        self._t_s = t = kept[0]
        for i in range(0, len(flat), 5):
            self._points.append((t + flat[i], flat[i + 1], flat[i + 2], flat[i + 3], flat[i + 4]))
        if self._points:
            self._smooth = self._points.pop()[1:]

    def feed(
        self,
        t_s: float,
        x_m: float,
        y_m: float,
        way_ms: tuple[float, float] | None,
        believed: bool,
        from_xy: tuple[float, float],
        usual_m: float,
    ) -> None:
        """The place of the bow, the Doppler way (east, north; None without), whether the fix was
        `believed`; the estimated anchor and the usual distance from it."""
        dt = t_s - self._t_s
        self._refusals(t_s, dt, believed)
        if way_ms is not None and t_s >= self._upset_until_s:
            self._run_x += way_ms[0] * min(dt, 12.0)
            self._run_y += way_ms[1] * min(dt, 12.0)
        self._t_s = t_s
        now = self._smoothen(dt, x_m, y_m)
        points = self._points
        if not points or t_s - points[-1][0] >= _STEP_S:
            points.append((t_s, *now))
            while t_s - points[0][0] > SPANS_S[-1] + _LATE_S:
                points.popleft()
            # Once in ten seconds is enough: it is a matter of minutes.
            self._reckon((t_s, *now), from_xy, usual_m)

    def _refusals(self, t_s: float, dt: float, believed: bool) -> None:
        if not believed:
            self._upset_until_s = t_s + _UPSET_S
            self._refused_s += dt
        else:
            if self._refused_s > _JUMP_S:
                self._jumped_until_s = t_s + SPANS_S[-1]
            self._refused_s = 0.0
        self.jumped = t_s < self._jumped_until_s or self._refused_s > _JUMP_S

    def _smoothen(self, dt: float, x_m: float, y_m: float) -> tuple[float, float, float, float]:
        now = (x_m, y_m, self._run_x, self._run_y)
        old = self._smooth
        if old is not None:
            gain = 1.0 - exp(-dt / _SMOOTH_S)
            now = (
                old[0] + gain * (now[0] - old[0]), old[1] + gain * (now[1] - old[1]),
                old[2] + gain * (now[2] - old[2]), old[3] + gain * (now[3] - old[3]),
            )  # fmt: skip
        self._smooth = now
        return now

    def _reckon(self, now: Point, from_xy: tuple[float, float], usual_m: float) -> None:
        self.by_fix_m = self.by_both_m = self.span_s = 0.0
        for span_s in SPANS_S:
            middle, then = self._at(now[0] - 0.5 * span_s), self._at(now[0] - span_s)
            if middle is None or then is None:
                return
            late, late_sailed = _outward(middle, now, now, from_xy, usual_m)
            early, early_sailed = _outward(then, middle, now, from_xy, usual_m)
            by_fix = 2.0 * min(late, early)
            if by_fix > self.by_fix_m:
                self.by_fix_m, self.span_s = by_fix, span_s
            by_both = min(by_fix, 2.0 * late_sailed, 2.0 * early_sailed)
            self.by_both_m = max(self.by_both_m, by_both)

    def _at(self, t_s: float) -> Point | None:
        """The newest point that is not younger."""
        for point in reversed(self._points):
            if point[0] <= t_s:
                return point if t_s - point[0] <= _LATE_S else None
        return None


def _outward(
    then: Point, since: Point, now: Point, from_xy: tuple[float, float], usual_m: float
) -> tuple[float, float]:
    """(by fixes, by Doppler) metres made good outward between two points; outward is as now."""
    x, y = from_xy
    least = usual_m - _SHORT_OF_USUAL_M
    by_fix = max(hypot(since[1] - x, since[2] - y), least) - max(
        hypot(then[1] - x, then[2] - y), least
    )
    dx, dy = now[1] - x, now[2] - y
    away = hypot(dx, dy)
    if away < 1.0:
        return by_fix, 0.0
    return by_fix, ((since[3] - then[3]) * dx + (since[4] - then[4]) * dy) / away
