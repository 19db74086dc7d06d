"""Compass, anemometer and sounder with their errors."""

from math import atan2, cos, degrees, hypot, sin
from random import Random

from shipkeeper.simulate.motion import Truth, heading_deg
from shipkeeper.simulate.noise import normal as normal_source
from shipkeeper.simulate.plan import NightPlan


class Board:
    """The boat's other instruments, read once a sample."""

    __slots__ = ("_chance", "_normal", "_plan", "_vane_deg")

    def __init__(self, plan: NightPlan) -> None:
        """Each has its own noise, apart from that of air and receiver."""
        self._plan = plan.instruments
        self._normal = normal_source(plan.seed, "instruments")
        self._chance = Random(f"{plan.seed} echo").random
        self._vane_deg = 0.0

    def compass_deg(self, truth: Truth) -> float:
        """Heading, degrees true as the boat believes."""
        plan = self._plan
        heading = truth.hull.heading
        error = plan.compass_bias_deg + plan.compass_swing_deg * sin(heading)
        error += plan.compass_sigma_deg * self._normal()
        return (heading_deg(heading) + error) % 360.0

    def wind(self, truth: Truth) -> tuple[float, float]:
        """(apparent speed m/s, degrees off the bow it comes from, clockwise)."""
        plan, hull, normal = self._plan, truth.hull, self._normal
        east = truth.wind.east_ms - hull.east_ms
        north = truth.wind.north_ms - hull.north_ms
        s, c = sin(hull.heading), cos(hull.heading)
        ahead, side = east * s + north * c, east * c - north * s
        speed = plan.wind_gain * hypot(ahead, side) + plan.wind_sigma_ms * normal()
        if speed < plan.cup_stall_ms:
            return 0.0, self._vane_deg
        angle = degrees(atan2(-side, -ahead)) + plan.wind_offset_deg
        self._vane_deg = (angle + plan.vane_sigma_deg * normal()) % 360.0
        return speed, self._vane_deg

    def depth_m(self, truth: Truth) -> float | None:
        """Surface to bottom under the boat; None when the echo is lost."""
        plan = self._plan
        if plan.depth_loss > 0.0 and self._chance() < plan.depth_loss:
            return None
        depth = truth.depth_at_m(truth.hull.x_m, truth.hull.y_m)
        return max(0.1, depth + plan.depth_sigma_m * self._normal())
