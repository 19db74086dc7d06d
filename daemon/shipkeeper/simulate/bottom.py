"""Chain lying on the bottom: in light air a boat lies to its weight and not to the anchor.

The chain is cut into links of some metres. Up to a point, the pivot, it lies undisturbed; from
there on it leads straight to the bow. A pull at the bow is used up by friction along the lying
chain, friction coefficient times weight a metre; what is left drags the pivot towards the bow,
until the chain behind it is straight and the pivot steps back one link nearer to the anchor. When
the pull eases, chain is laid again where the boat then is. (Friction of chain on the bottom 0.6
to 1.0: from memory, mooring practice.)
"""

from math import hypot

from shipkeeper.simulate.plan import Rode
from shipkeeper.simulate.rode import RodeTable

_DRAG_SPEED_MS = 0.4  # of the pivot when the pull is one link's friction too much
_LINK_M = 4.0


class Bottom:
    """Where the lying chain leads from: `x_m`, `y_m` and `laid_m`, the chain up to there."""

    __slots__ = ("_friction_n_per_m", "_laid", "_link_m", "_links", "laid_m", "x_m", "y_m")

    def __init__(self, rode: Rode, table: RodeTable) -> None:
        """Begins with the chain straight from an anchor at (0, 0)."""
        self._links = max(1, int(rode.chain_m / _LINK_M))
        self._link_m = rode.chain_m / self._links
        self._friction_n_per_m = rode.bottom_friction * table.weight_n_per_m
        self._laid: list[tuple[float, float]] = []
        self.x_m = 0.0
        self.y_m = 0.0
        self.laid_m = 0.0

    def anchor_moved(self, x_m: float, y_m: float) -> None:
        """The anchor comes home: nothing between it and the bow lies undisturbed any more."""
        self._laid.clear()
        self.x_m, self.y_m, self.laid_m = x_m, y_m, 0.0

    def step(self, tick_s: float, bow_x: float, bow_y: float, pull_n: float, lying: float) -> None:
        """Move the pivot under a pull; `lying` is the length of rode on the bottom (metres)."""
        friction = self._friction_n_per_m
        held = lying - pull_n / friction
        if held < self.laid_m:
            if self._laid:
                self._drag(tick_s, bow_x, bow_y, self.laid_m - held)
        elif held >= self.laid_m + self._link_m and len(self._laid) < self._links - 1:
            self._lay(bow_x, bow_y)

    def _drag(self, tick_s: float, bow_x: float, bow_y: float, excess_m: float) -> None:
        """The pull beyond friction, as metres of chain, moves the pivot or lifts it."""
        east, north = bow_x - self.x_m, bow_y - self.y_m
        away = hypot(east, north)
        before_x, before_y = self._laid[-1]
        way = min(excess_m / self._link_m, 3.0) * _DRAG_SPEED_MS * tick_s
        if away > way:
            x = self.x_m + way * east / away
            y = self.y_m + way * north / away
        else:
            x, y = bow_x, bow_y
        link = hypot(x - before_x, y - before_y)
        if link > self._link_m:
            x = before_x + (x - before_x) * self._link_m / link
            y = before_y + (y - before_y) * self._link_m / link
            if hypot(x - self.x_m, y - self.y_m) < 0.3 * way:
                self._laid.pop()
                self.laid_m -= self._link_m
                x, y = before_x, before_y
        self.x_m, self.y_m = x, y

    def _lay(self, bow_x: float, bow_y: float) -> None:
        """One more link comes to rest, towards the bow or in a heap under it."""
        east, north = bow_x - self.x_m, bow_y - self.y_m
        away = hypot(east, north)
        self._laid.append((self.x_m, self.y_m))
        self.laid_m += self._link_m
        if away > 0.0:
            part = min(1.0, self._link_m / away)
            self.x_m += part * east
            self.y_m += part * north
