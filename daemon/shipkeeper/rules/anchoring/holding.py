"""After a drag: does she still move, or does the anchor hold again?

From the moment the boat lies beyond her reach nothing is learned any more, so that no belief
can talk the drag away. Minute means of the distance from the estimated anchor then tell
whether she goes on: ten minutes without getting farther is holding again.
"""

LOST_M = 6.0
FOUND_M = 2.0
FOUND_S = 600.0
GROWTH_M = 2.0
MINUTE_S = 60.0


class Holding:
    """`astray`: she lies where no rode lets her. `still_s`: time without getting farther."""

    __slots__ = ("_calm_s", "_farthest_m", "_from_s", "_grew_s", "_n", "_sum", "astray",
                 "since_s", "still_s")  # fmt: skip

    def __init__(self) -> None:
        self.astray = False
        self.since_s: float | None = None
        self.still_s = 0.0
        self._calm_s: float | None = None
        self._farthest_m = 0.0
        self._grew_s = 0.0
        self._from_s = 0.0
        self._n = self._sum = 0.0

    def feed(self, t_s: float, statistic: float, away_m: float) -> None:
        """The statistic and the distance from the estimated anchor at this fix."""
        if not self.astray:
            if statistic > LOST_M:
                self.astray = True
                self.since_s = t_s
                self._calm_s = None
                self._farthest_m = away_m
                self._grew_s = self._from_s = t_s
                self._n = self._sum = self.still_s = 0.0
            return
        if self._farthest_m > 1e8:
            self._farthest_m, self._grew_s, self._from_s = away_m, t_s, t_s
        self._n += 1.0
        self._sum += away_m
        if t_s - self._from_s >= MINUTE_S:
            mean = self._sum / self._n
            if mean > self._farthest_m + GROWTH_M:
                self._farthest_m, self._grew_s = mean, t_s
            self._from_s = t_s
            self._n = self._sum = 0.0
        self.still_s = t_s - self._grew_s
        if statistic > FOUND_M:
            self._calm_s = None
        elif self._calm_s is None:
            self._calm_s = t_s
        elif t_s - self._calm_s >= FOUND_S:
            self.astray = False
            self.since_s = None
            self.still_s = 0.0

    def resume(self, since_s: float | None) -> None:
        """Take up after a restart: what was astray is still, until she lies well for a while."""
        self.since_s = since_s
        self.astray = since_s is not None
        self._farthest_m = 1e9
        self._calm_s = None
