"""How a boat sails about at her anchor, read from her own track of the last five minutes.

A boat whose rode is stretched moves to and fro on an arc about the anchor: the long axis of
her track is square to the line to the anchor, and how fast she moves tells how hard it blows.
That needs no wind, no heading and no compass. In a calm she hardly moves, and nothing is said.
"""

from collections import deque
from math import atan2, cos, hypot, sin, sqrt

import msgspec

_BLOCKS = 5
_LAG_S = 20.0
_FULL_N = 60.0


class SwayView(msgspec.Struct, frozen=True, gc=False):
    """Motion over the window: speed (m/s), spread along and across (m), where, which way.

    (line_x, line_y) is the unit vector square to the long axis: the line to the anchor, either
    way.
    """

    rms_ms: float
    major_m: float
    minor_m: float
    x_m: float
    y_m: float
    line_x: float
    line_y: float


class Sway:
    """Feed places in order, close a block each minute."""

    __slots__ = ("_blocks", "_lag", "_now")

    def __init__(self) -> None:
        self._lag: deque[tuple[float, float, float]] = deque()
        self._now = [0.0] * 8
        self._blocks: deque[list[float]] = deque(maxlen=_BLOCKS)

    def clear(self) -> None:
        """After a gap the track begins anew."""
        self._lag.clear()
        self._blocks.clear()
        self._now = [0.0] * 8

    def feed(self, t_s: float, x_m: float, y_m: float) -> None:
        """Add a place; more than one a second is not looked at."""
        lag = self._lag
        if lag and t_s - lag[-1][0] < 0.95:
            return
        lag.append((t_s, x_m, y_m))
        now = self._now
        now[0] += 1.0
        now[1] += x_m
        now[2] += y_m
        now[3] += x_m * x_m
        now[4] += y_m * y_m
        now[5] += x_m * y_m
        while t_s - lag[0][0] > _LAG_S + 0.5:
            lag.popleft()
        span = t_s - lag[0][0]
        if span >= 8.0:
            dx, dy = x_m - lag[0][1], y_m - lag[0][2]
            now[6] += (dx * dx + dy * dy) / (span * span)
            now[7] += 1.0

    def close(self) -> SwayView | None:
        """End of a block: what the window shows; None until it is full."""
        self._blocks.append(self._now)
        self._now = [0.0] * 8
        if len(self._blocks) < _BLOCKS:
            return None
        n, sx, sy, sxx, syy, sxy, moved, lags = (sum(b[i] for b in self._blocks) for i in range(8))
        if n < 3.0 * _BLOCKS or lags < _BLOCKS:
            return None
        x, y = sx / n, sy / n
        vxx, vyy, vxy = sxx / n - x * x, syy / n - y * y, sxy / n - x * y
        half = 0.5 * (vxx + vyy)
        turn = hypot(0.5 * (vxx - vyy), vxy)
        angle = 0.5 * atan2(2.0 * vxy, vxx - vyy)  # of the long axis, from east
        return SwayView(
            rms_ms=sqrt(moved / lags),
            major_m=sqrt(max(half + turn, 0.0)),
            minor_m=sqrt(max(half - turn, 0.0)),
            x_m=x,
            y_m=y,
            line_x=-sin(angle),
            line_y=cos(angle),
        )
