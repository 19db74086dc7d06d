"""The air over the anchorage: a mean that follows its knots, and coloured gusts about it.

Speed: two first-order Gauss-Markov processes (seconds and some ninety seconds) added to the mean,
in proportion to it. Direction: a quick and a slow one; in very light air the slow one grows, as
wind below some 2 m/s boxes the compass. That gusts are near normal with a standard deviation of
10 to 25 % of the mean over a rough shore and a time scale of seconds is common practice in wind
engineering (from memory).
"""

from math import cos, exp, radians, sin, sqrt

from shipkeeper.simulate.noise import normal as normal_source
from shipkeeper.simulate.plan import NightPlan
from shipkeeper.simulate.schedule import Schedule

_LULL_TAU_S = 90.0
_LIGHT_MS = 2.0


class Wind:
    """Steps through the night; `speed_ms`, `from_deg`, `east_ms`, `north_ms` are of the air now.

    `east_ms` and `north_ms` are where the air goes, not where it comes from.
    """

    __slots__ = (
        "_gust", "_keep_gust", "_keep_lull", "_keep_meander", "_lull", "_mean", "_meander",
        "_new_gust", "_new_lull", "_new_meander", "_new_shift", "_normal", "_shift", "_tick_s",
        "east_ms", "from_deg", "north_ms", "speed_ms",
    )  # fmt: skip

    def __init__(self, plan: NightPlan, tick_s: float) -> None:
        """Starts in the steady state of its gusts."""
        air = plan.air
        self._normal = normal = normal_source(plan.seed, "wind")
        self._mean = Schedule([(k.t_s, k.speed_ms, k.from_deg) for k in plan.wind])
        self._tick_s = tick_s
        self._keep_gust = exp(-tick_s / air.gust_tau_s)
        self._keep_lull = exp(-tick_s / _LULL_TAU_S)
        self._keep_meander = exp(-tick_s / air.meander_tau_s)
        white_gust = sqrt(1 - self._keep_gust**2)
        self._new_gust = 0.8 * air.gust * white_gust
        self._new_lull = 0.6 * air.gust * sqrt(1 - self._keep_lull**2)
        self._new_shift = air.shift_deg * white_gust
        self._new_meander = air.meander_deg * sqrt(1 - self._keep_meander**2)
        self._gust = normal() * 0.8 * air.gust
        self._lull = normal() * 0.6 * air.gust
        self._shift = normal() * air.shift_deg
        self._meander = normal() * air.meander_deg
        self.step(0.0)

    def step(self, t_s: float) -> None:
        """The air at `t_s`, one tick after the last call."""
        normal = self._normal
        self._gust = self._keep_gust * self._gust + self._new_gust * normal()
        self._lull = self._keep_lull * self._lull + self._new_lull * normal()
        self._shift = self._keep_gust * self._shift + self._new_shift * normal()
        self._meander = self._keep_meander * self._meander + self._new_meander * normal()
        speed, course = self._mean.at(t_s)
        wild = _LIGHT_MS / speed if 0.3 < speed < _LIGHT_MS else (1.0 if speed > 1 else 6.0)
        speed *= 1.0 + self._gust + self._lull
        if speed < 0.0:
            speed = 0.0
        course += self._shift + wild * self._meander
        self.speed_ms = speed
        self.from_deg = course % 360.0
        angle = radians(course)
        self.east_ms = -speed * sin(angle)
        self.north_ms = -speed * cos(angle)
