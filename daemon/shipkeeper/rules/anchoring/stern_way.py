"""Way made astern with the bow to the wind: she is held, and what holds her comes along.

A boat that moves to leeward on a slack rode lies across the wind as she drifts; one that sails
about on a stretched rode moves sideways. Only the pull of a rode keeps her head to the wind, and
only an anchor that comes home lets her go astern then, on and on. So metres made good astern,
bow to the wind, evenly in each part of a minute or so, by her fixes and by her Doppler speed
alike, tell a drag from a swing without any belief of where the anchor is.

In some hundred simulated nights that held she made 2 m in a minute this way on half of the
nights, and 8 m on one in sixty.
"""

from collections import deque
from math import exp, hypot

PARTS = ((20.0, 2), (30.0, 2), (30.0, 3))  # seconds, and how many of them in a row
_LONGEST_S = 90.0
_LATE = 0.34  # of a part: a point may be so much older than asked for
_SMOOTH_S = 5.0
_HEADING_S = 20.0
_UPSET_S = 15.0  # a receiver that has just shown a wild fix shows a wild speed for a while
_BREAK_S = 15.0  # without a fix or a heading: what was made good before is not known
_FACING = 0.5  # cosine of her heading off the mean wind
_STEADY = 0.8  # length of the mean of the wind's direction
_FACING_SHARE = 0.8
LEAST_WIND_MS = 2.0

Point = tuple[float, float, float, float]  # time; astern by fixes, by Doppler; seconds facing


class SternWay:
    """Feed each fix; `even_m` is what was made good astern (m): the number of parts times the
    least of them, of the best span; 0 when it is not known."""

    __slots__ = ("_by_dop", "_by_fix", "_cos", "_facing_s", "_points", "_sin", "_t_s",
                 "_upset_until_s", "_x", "_y", "even_m")  # fmt: skip

    def __init__(self) -> None:
        self._points: deque[Point] = deque()
        self._upset_until_s = -1e18
        self.clear()

    def clear(self) -> None:
        """After a gap the way until then is not known."""
        self._points.clear()
        self._t_s: float | None = None
        self._x = self._y = self._sin = self._cos = 0.0
        self._by_fix = self._by_dop = self._facing_s = 0.0
        self.even_m = 0.0

    def feed(
        self,
        t_s: float,
        x_m: float,
        y_m: float,
        velocity_ms: tuple[float | None, float | None],
        believed: bool,
        heading: tuple[float, float] | None,
        towards_wind: tuple[float, float] | None,
        wind_ms: float,
    ) -> None:
        """The fix (m east, m north), the Doppler velocity (east, north), whether the fix was
        believed, the heading (sine, cosine), the mean wind: a vector towards it whose length is
        how steady its direction is, and its speed."""
        if not believed:
            self._upset_until_s = t_s + _UPSET_S
        last = self._t_s
        if heading is None or (last is not None and t_s - last > _BREAK_S):
            self.clear()
            if heading is None:
                return
            last = None
        self._t_s = t_s
        sine, cosine = heading
        if last is None:
            self._x, self._y, self._sin, self._cos = x_m, y_m, sine, cosine
        else:
            self._go_on(t_s, t_s - last, x_m, y_m, velocity_ms, sine, cosine)
            if _lies_to(self._sin, self._cos, towards_wind, wind_ms):
                self._facing_s += t_s - last
        points = self._points
        if points and t_s - points[-1][0] < 0.95:
            return
        now = (t_s, self._by_fix, self._by_dop, self._facing_s)
        points.append(now)
        while t_s - points[0][0] > _LONGEST_S * (1.0 + _LATE):
            points.popleft()
        self.even_m = max(self._even(now, part_s, many) for part_s, many in PARTS)

    def _go_on(
        self,
        t_s: float,
        dt: float,
        x_m: float,
        y_m: float,
        velocity_ms: tuple[float | None, float | None],
        sine: float,
        cosine: float,
    ) -> None:
        gain = 1.0 - exp(-dt / _HEADING_S)
        self._sin += gain * (sine - self._sin)
        self._cos += gain * (cosine - self._cos)
        gain = 1.0 - exp(-dt / _SMOOTH_S)
        dx, dy = gain * (x_m - self._x), gain * (y_m - self._y)
        self._x += dx
        self._y += dy
        size = hypot(self._sin, self._cos)
        if size > 0.1:
            self._by_fix -= (dx * self._sin + dy * self._cos) / size
        east, north = velocity_ms
        if east is not None and north is not None and t_s >= self._upset_until_s:
            self._by_dop -= (east * sine + north * cosine) * dt

    def _even(self, now: Point, part_s: float, many: int) -> float:
        least = 1e9
        late = now
        for number in range(1, many + 1):
            then = self._at(now[0] - number * part_s, part_s)
            if then is None:
                return 0.0
            least = min(least, late[1] - then[1], late[2] - then[2])
            if least <= 0.0:
                return 0.0
            late = then
        if now[3] - late[3] < _FACING_SHARE * (now[0] - late[0]):
            return 0.0
        return many * least

    def _at(self, t_s: float, part_s: float) -> Point | None:
        """The newest point that is not younger."""
        for point in reversed(self._points):
            if point[0] <= t_s:
                return point if t_s - point[0] <= _LATE * part_s else None
        return None


def _lies_to(
    sine: float, cosine: float, towards_wind: tuple[float, float] | None, wind_ms: float
) -> bool:
    if towards_wind is None or wind_ms < LEAST_WIND_MS:
        return False
    strength = hypot(towards_wind[0], towards_wind[1])
    size = hypot(sine, cosine)
    if strength < _STEADY or size < 0.1:
        return False
    return (sine * towards_wind[0] + cosine * towards_wind[1]) / (strength * size) > _FACING
