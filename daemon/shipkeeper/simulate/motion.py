"""The truth of a night: boat, rode and anchor moved on tick by tick.

The anchor holds, comes home towards the bow at the speed of a drag, or is lost. A dragging anchor
follows the pull: it moves by drag speed times the pull over the pull of the last minutes, so it
goes in bursts with the gusts and stops when the rode goes slack.
"""

from math import atan2, ceil, cos, exp, hypot, pi, radians, sin, sqrt

from shipkeeper.simulate.bottom import Bottom
from shipkeeper.simulate.hull import Hull
from shipkeeper.simulate.plan import Drag, NightPlan
from shipkeeper.simulate.rode import RodeTable, compliance_m_per_n
from shipkeeper.simulate.schedule import Schedule
from shipkeeper.simulate.wind import Wind

_LONGEST_STEP_S = 0.5
_SETTLE_S = 300.0
_PULL_TAU_S = 120.0


class Truth:
    """Everything that really is so, now. `t_s` of the night; positions in the plane, metres."""

    __slots__ = (
        "_bottom", "_bow0", "_bow_height_m", "_depth_m", "_drag", "_drag_begun_m", "_drags",
        "_dt_s", "_mean_pull", "_new_pull", "_slope", "_steps", "_stream", "_table", "_tick_s",
        "_tide",
        "anchor_x_m", "anchor_y_m", "dragged_m", "dragging", "hull", "parted", "pull_n",
        "stream_east_ms", "stream_north_ms", "t_s", "tide_m", "wind",
    )  # fmt: skip

    def __init__(self, plan: NightPlan, tick_s: float) -> None:
        """The boat lies to her anchor as the first wind and stream have it."""
        self._tick_s = tick_s
        self.hull = Hull(plan.boat)
        self._steps = ceil(tick_s / _longest_step_s(plan, self.hull) - 1e-9)
        self._dt_s = tick_s / self._steps
        self._depth_m = plan.depth_m
        self._bow_height_m = plan.boat.bow_height_m
        self._slope = (plan.slope_east, plan.slope_north)
        heights = [k.height_m for k in plan.tide] or [0.0]
        base = plan.bow_over_bottom_m
        self._table = RodeTable(plan.rode, base + min(heights), base + max(heights))
        self._stream = Schedule(
            [(k.t_s, k.east_ms, k.north_ms) for k in plan.stream] or [(0.0, 0.0, 0.0)]
        )
        self._tide = Schedule([(k.t_s, k.height_m, 0.0) for k in plan.tide] or [(0.0, 0.0, 0.0)])
        self.wind = Wind(plan, tick_s)
        self._bottom = Bottom(plan.rode, self._table)
        self._drags = sorted(plan.drags, key=lambda d: d.start_s, reverse=True)
        self._drag: Drag | None = None
        self._drag_begun_m = 0.0
        self._new_pull = 1.0 - exp(-tick_s / _PULL_TAU_S)
        self._mean_pull = 0.0
        self._bow0 = (0.0, 0.0)
        self.anchor_x_m = self.anchor_y_m = self.dragged_m = self.pull_n = 0.0
        self.dragging = self.parted = False
        self.stream_east_ms = self.stream_north_ms = self.tide_m = self.t_s = 0.0
        self._settle()

    def _settle(self) -> None:
        """Lay her to wind and stream, then let her find her place before the night begins."""
        self._surroundings(0.0)
        east = self.wind.east_ms + 20.0 * self.stream_east_ms
        north = self.wind.north_ms + 20.0 * self.stream_north_ms
        away = atan2(east, north) if hypot(east, north) > 1e-6 else 0.0
        reach = self._table.reach_m(20.0)
        self.hull.place(reach * sin(away), reach * cos(away), away + pi)
        for _ in range(int(_SETTLE_S / self._tick_s)):
            self._move()
        self.t_s = 0.0

    def _surroundings(self, t_s: float) -> None:
        """Air, water level and stream at a time."""
        self.t_s = t_s
        self.wind.step(t_s)
        self.stream_east_ms, self.stream_north_ms = self._stream.at(t_s)
        self.tide_m, _ = self._tide.at(t_s)
        self._table.at_height(self._depth_m + self._bow_height_m + self.tide_m)

    def step(self, t_s: float) -> None:
        """Move on to `t_s`, one tick after the last."""
        self._surroundings(t_s)
        if self._drags or self._drag is not None:
            self._holding(t_s)
        self._move()

    def _holding(self, t_s: float) -> None:
        """Begin, go on with or end a drag."""
        if self._drags and t_s >= self._drags[-1].start_s:
            self._drag = self._drags.pop()
            self._drag_begun_m = self.dragged_m
            self._bow0 = (self.hull.bow_x_m, self.hull.bow_y_m)
            self.parted = self.parted or self._drag.parted
            self.dragging = True
        drag = self._drag
        if drag is None:
            return
        if self.parted:
            bow = self.hull
            self.dragged_m = hypot(bow.bow_x_m - self._bow0[0], bow.bow_y_m - self._bow0[1])
            return
        gone = self.dragged_m - self._drag_begun_m
        if (drag.end_s is not None and t_s >= drag.end_s) or (
            drag.stop_after_m is not None and gone >= drag.stop_after_m
        ):
            self._drag = None
            self.dragging = False
            return
        self._come_home(drag)

    def _come_home(self, drag: Drag) -> None:
        """The anchor moves a tick towards the bow."""
        east = self.hull.bow_x_m - self.anchor_x_m
        north = self.hull.bow_y_m - self.anchor_y_m
        away = hypot(east, north)
        usual = max(self._mean_pull, 30.0)
        way = drag.speed_ms * min(1.6, self.pull_n / usual) * self._tick_s
        if away > way:
            self.anchor_x_m += way * east / away
            self.anchor_y_m += way * north / away
            self.dragged_m += way
        self._bottom.anchor_moved(self.anchor_x_m, self.anchor_y_m)

    def _move(self) -> None:
        """One tick of the boat under the forces of now."""
        hull, bottom, dt_s = self.hull, self._bottom, self._dt_s
        wind_e, wind_n = self.wind.east_ms, self.wind.north_ms
        stream_e, stream_n = self.stream_east_ms, self.stream_north_ms
        if self.parted:
            for _ in range(self._steps):
                hull.step(dt_s, wind_e, wind_n, stream_e, stream_n, 0.0, 0.0)
            self.pull_n = 0.0
            return
        pull_n = self._table.pull_n
        from_x, from_y, laid = bottom.x_m, bottom.y_m, bottom.laid_m
        east, north = from_x - hull.bow_x_m, from_y - hull.bow_y_m
        away = sqrt(east * east + north * north) + 1e-9
        for _ in range(self._steps):
            share = pull_n(away + laid) / away
            hull.step(dt_s, wind_e, wind_n, stream_e, stream_n, share * east, share * north)
            east, north = from_x - hull.bow_x_m, from_y - hull.bow_y_m
            away = sqrt(east * east + north * north) + 1e-9
        self.pull_n = pull = pull_n(away + laid)
        self._mean_pull += self._new_pull * (pull - self._mean_pull)
        lying = self._table.lying_m(away + laid)
        bottom.step(self._tick_s, hull.bow_x_m, hull.bow_y_m, pull, lying)

    def depth_at_m(self, x_m: float, y_m: float) -> float:
        """Water depth, surface to bottom; never under 0.3 m."""
        slope = self._slope
        return max(0.3, self._depth_m + self.tide_m + slope[0] * x_m + slope[1] * y_m)


def _longest_step_s(plan: NightPlan, hull: Hull) -> float:
    """A step that the stiffest spring, the taut rode on the bow, cannot upset.

    The integration (semi-implicit Euler) holds up to a step of 2 over its frequency.
    """
    stiffest = 1.0 / sqrt(hull.bow_mass_kg() * compliance_m_per_n(plan.rode))
    return min(_LONGEST_STEP_S, 1.5 / stiffest)


def heading_deg(heading: float) -> float:
    """Radians from north, any turn, to degrees 0..360."""
    return heading / radians(1.0) % 360.0
