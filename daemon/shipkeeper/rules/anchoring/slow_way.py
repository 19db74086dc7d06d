"""Slow way outward: what she made good away from her anchor in the last ten minutes.

A drag of a tenth of a knot hides: however far she has come, an anchor that was all along much
nearer than she seemed to lie explains her place at a fixed price, so the excess comes to a stand.
But a boat that lies already as far out as her rode usually lets her, and goes on outward minute
by minute, by her fixes and by her Doppler way alike, is going with her anchor.

Counted is only what leads beyond the usual reach: before that, she stretches her rode.
"""

from array import array
from collections import deque
from math import exp, hypot

SPAN_S = 600.0
_LEAST_S = 150.0  # of history, or nothing is said
_STEP_S = 10.0
_SMOOTH_S = 15.0
_UPSET_S = 15.0  # a receiver that has just shown a wild fix shows a wild speed for a while
_JUMP_S = 10.0  # refused for longer, then believed: the filter goes over to the new place slowly
_SHORT_OF_USUAL_M = 2.0


class SlowWay:
    """Feed each fix; `by_fix_m` and `by_doppler_m` are what was made good outward (m).

    `jumped`: fixes have jumped in that time, and what they show may be the filter's own way.
    """

    __slots__ = ("_jumped_until_s", "_points", "_refused_s", "_run_x", "_run_y", "_smooth",
                 "_t_s", "_upset_until_s", "by_doppler_m", "by_fix_m", "jumped", "span_s",
                 )  # fmt: skip

    def __init__(self) -> None:
        self._points: deque[tuple[float, float, float, float, float]] = deque()
        self.clear()

    def clear(self) -> None:
        """After a gap the way until then is not known."""
        self._points.clear()
        self._smooth: tuple[float, float, float, float] | None = None
        self._t_s = self._run_x = self._run_y = 0.0
        self._upset_until_s = self._jumped_until_s = -1e18
        self._refused_s = 0.0
        self.jumped = False
        self.by_fix_m = self.by_doppler_m = self.span_s = 0.0

    def snapshot(self) -> tuple[float, bytes]:
        """Time, and the points relative to it and to the Doppler way until then: 1.2 kB."""
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
        self._smoothen(dt, x_m, y_m)
        assert self._smooth is not None
        points = self._points
        if not points or t_s - points[-1][0] >= _STEP_S:
            points.append((t_s, *self._smooth))
            while t_s - points[0][0] > SPAN_S:
                points.popleft()
        self._reckon(t_s, from_xy, usual_m)

    def _refusals(self, t_s: float, dt: float, believed: bool) -> None:
        if not believed:
            self._upset_until_s = t_s + _UPSET_S
            self._refused_s += dt
        else:
            if self._refused_s > _JUMP_S:
                self._jumped_until_s = t_s + SPAN_S
            self._refused_s = 0.0
        self.jumped = t_s < self._jumped_until_s or self._refused_s > _JUMP_S

    def _smoothen(self, dt: float, x_m: float, y_m: float) -> None:
        now = (x_m, y_m, self._run_x, self._run_y)
        if self._smooth is None:
            self._smooth = now
            return
        gain = 1.0 - exp(-dt / _SMOOTH_S)
        a, b, c, d = self._smooth
        self._smooth = (
            a + gain * (now[0] - a), b + gain * (now[1] - b),
            c + gain * (now[2] - c), d + gain * (now[3] - d),
        )  # fmt: skip

    def _reckon(self, t_s: float, from_xy: tuple[float, float], usual_m: float) -> None:
        then = self._points[0]
        self.span_s = t_s - then[0]
        self.by_fix_m = self.by_doppler_m = 0.0
        if self.span_s < _LEAST_S or self._smooth is None:
            return
        x, y, run_x, run_y = self._smooth
        dx, dy = x - from_xy[0], y - from_xy[1]
        now_r = hypot(dx, dy)
        then_r = hypot(then[1] - from_xy[0], then[2] - from_xy[1])
        self.by_fix_m = now_r - max(then_r, usual_m - _SHORT_OF_USUAL_M)
        if now_r > 1.0:
            self.by_doppler_m = ((run_x - then[3]) * dx + (run_y - then[4]) * dy) / now_r
