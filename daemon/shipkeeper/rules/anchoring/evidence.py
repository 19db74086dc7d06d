"""Minutes of lying somewhere, made into blocks of evidence of where the anchor is.

A block has the mean place of the bow, the reaches of that time, how sure it is that the rode
was stretched, and which way the anchor lies: ahead by the heading, or square to the sway.
Blocks wait three minutes before they count, or a drag would be learned as it begins.
"""

from collections import deque
from math import hypot, sqrt

from .fix_filter import FixFilter
from .reaches import Reaches
from .records import Block
from .sway import Sway, SwayView
from .windage import PullGauge

BLOCK_S = 60.0
HELD_BACK_S = 180.0
SWAY_FROM_MS = 0.10  # sailing about slower than this says nothing of the rode
SWAY_OVER_MS = 0.08
SWAY_NOISE_MS = 0.015
SWAY_NOISE_BLIND_MS = 0.07
LINE_DOUBT = 0.12
LINE_MINOR = 0.35
FACING = 0.7  # cosine of heading off the wind beyond which she does not lie to the wind


class Evidence:
    """Feed the bow at each fix; `ripe` gives the block that has waited long enough."""

    __slots__ = ("_cos", "_from_s", "_n", "_sin", "_sway", "_waiting", "_worst", "_x", "_y")

    def __init__(self) -> None:
        self._sway = Sway()
        self._waiting: deque[Block] = deque()
        self._from_s: float | None = None
        self._start(0.0)
        self._from_s = None

    def _start(self, t_s: float) -> None:
        self._from_s = t_s
        self._n = self._x = self._y = self._worst = self._sin = self._cos = 0.0

    def clear(self) -> None:
        """After a gap: what was being gathered is dropped, what waits is kept."""
        self._sway.clear()
        self._from_s = None

    def drop(self) -> None:
        """Nothing that waits may count: it was gathered in a drag, or about another mark."""
        self._waiting.clear()
        self.clear()

    def feed(
        self, t_s: float, x_m: float, y_m: float, heading: tuple[float, float] | None, raw: float
    ) -> None:
        """One believed place of the bow; `heading` as (sine, cosine), `raw` excess there."""
        if self._from_s is None:
            self._start(t_s)
        self._sway.feed(t_s, x_m, y_m)
        self._n += 1.0
        self._x += x_m
        self._y += y_m
        if raw > self._worst:
            self._worst = raw
        if heading is not None:
            self._sin += heading[0]
            self._cos += heading[1]

    def ripe(self, t_s: float, reaches: Reaches, pull: PullGauge, fix: FixFilter) -> Block | None:
        """At the end of each minute, the block that now counts, if there is one."""
        if self._from_s is None or t_s - self._from_s < BLOCK_S:
            return None
        if self._n > 0.0:
            span = min(t_s - self._from_s, 2.0 * BLOCK_S)
            self._waiting.append(self._close(t_s, span, reaches, pull, fix))
        self._start(t_s)
        if self._waiting and self._waiting[0].t_s <= t_s - HELD_BACK_S:
            return self._waiting.popleft()
        return None

    def _close(
        self, t_s: float, span_s: float, reaches: Reaches, pull: PullGauge, fix: FixFilter
    ) -> Block:
        taut, ahead = self._by_heading(reaches.taut, pull.towards_wind)
        usual = reaches.usual
        line: tuple[float, float] | None = None
        doubt = line_x = line_y = 0.0
        view = self._sway.close()
        if view is not None:
            moving, sure = how_sure(view, fix)
            if not pull.known(t_s) and sure > 0.0 and reaches.setting.kind == "anchored":
                taut = sure
                usual = reaches.usual_at(pull.sway_pull_n(moving))
            doubt = line_doubt(view, fix)
            if sure > 0.3 and doubt < 0.5:
                line = (view.line_x, view.line_y)
                line_x, line_y = view.x_m, view.y_m
        return Block(
            t_s=t_s,
            span_s=span_s,
            x_m=self._x / self._n,
            y_m=self._y / self._n,
            highest=reaches.highest,
            usual=usual,
            taut=taut,
            ahead=ahead,
            line=line,
            line_x_m=line_x,
            line_y_m=line_y,
            line_doubt=doubt,
            excess_m=self._worst,
            scale=fix.scale,
        )

    def _by_heading(
        self, taut: float, wind: tuple[float, float] | None
    ) -> tuple[float, tuple[float, float] | None]:
        """(taut, direction of the anchor): ahead, as long as she lies to the wind."""
        size = hypot(self._sin, self._cos)
        strength = 0.0 if wind is None else hypot(wind[0], wind[1])
        if size > 0.5 * self._n:
            ahead = (self._sin / size, self._cos / size)
            if wind is not None and strength > 0.0:
                facing = (wind[0] * ahead[0] + wind[1] * ahead[1]) / strength
                if facing < FACING:
                    return 0.0, ahead
            return taut, ahead
        if wind is not None and strength > FACING:
            return taut, (wind[0] / strength, wind[1] / strength)
        return taut, None


def how_sure(view: SwayView, fix: FixFilter) -> tuple[float, float]:
    """(speed of sailing about, m/s; 0..1 how sure it is that this stretches the rode)."""
    noise = (SWAY_NOISE_MS if fix.doppler else SWAY_NOISE_BLIND_MS) * fix.scale
    moving = sqrt(max(0.0, view.rms_ms**2 - noise**2))
    return moving, min(1.0, max(0.0, (moving - SWAY_FROM_MS) / SWAY_OVER_MS))


def line_doubt(view: SwayView, fix: FixFilter) -> float:
    """Doubt of the direction square to the sway (radians); much when she hardly sways."""
    if view.major_m < 2.5:
        return 9.0
    error = (0.5 if fix.doppler else 1.2) * fix.scale / view.major_m
    return hypot(LINE_DOUBT + LINE_MINOR * view.minor_m / view.major_m, error)
