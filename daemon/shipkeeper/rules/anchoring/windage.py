"""From wind to pull: what the air makes a boat of this length hang on her rode.

The upper bound is the design load of ABYC H-40 Table 1, which goes with the square of the
wind and holds surging and sheering; the usual load is a fraction of it. The wind is kept as a
peak with a slow decay (the rode stretches in seconds and the boat falls back in a minute) and
as a two-minute mean.
"""

from math import cos, exp, radians, sin

# ABYC H-40 Table 1, working load at 30 kn by length over all (ft -> lb): check values 5.4.
_LENGTH_FT = (20.0, 25.0, 30.0, 35.0, 40.0, 50.0, 60.0)
_LOAD_LB = (360.0, 490.0, 700.0, 900.0, 1200.0, 1600.0, 2000.0)
_FT_M = 0.3048
_LB_N = 4.448222
_TABLE_WIND_MS = 30.0 * 1852.0 / 3600.0

USUAL_SHARE = 0.30  # of the design load that a boat pulls on the mean: our choice
LEAST_N = 150.0  # stream, swell and way of the boat in no wind at all
NO_WIND_KNOWN_N = 3000.0


def design_load_n(length_m: float, wind_ms: float) -> float:
    """Horizontal load of ABYC H-40 (N) for a length over all; beyond the table it scales."""
    feet = length_m / _FT_M
    x, y = _LENGTH_FT, _LOAD_LB
    if feet <= x[0]:
        pounds = y[0] * (feet / x[0]) ** 1.5
    elif feet >= x[-1]:
        pounds = y[-1] * (feet / x[-1]) ** 1.5
    else:
        at = max(i for i in range(len(x) - 1) if x[i] <= feet)
        pounds = y[at] + (feet - x[at]) / (x[at + 1] - x[at]) * (y[at + 1] - y[at])
    return float(pounds) * _LB_N * (wind_ms / _TABLE_WIND_MS) ** 2


class PullGauge:
    """Peak and mean of the wind by time, whatever the rate of the readings."""

    __slots__ = ("_mean_ms", "_mean_x", "_mean_y", "_n_per_ms2", "_peak_ms", "_t_s", "_weight")

    PEAK_TAU_S = 600.0
    MEAN_TAU_S = 120.0
    STALE_S = 180.0

    def __init__(self, length_m: float) -> None:
        self._n_per_ms2 = design_load_n(length_m, 1.0)
        self._t_s: float | None = None
        self._peak_ms = self._mean_ms = self._mean_x = self._mean_y = self._weight = 0.0

    def feed(self, t_s: float, wind_ms: float, from_deg: float | None) -> None:
        """One reading of wind speed and, when heading allows, its true direction."""
        if self._t_s is None or t_s - self._t_s > self.STALE_S or t_s < self._t_s:
            self._peak_ms = self._mean_ms = wind_ms
            self._mean_x = self._mean_y = self._weight = 0.0
            gain = 1.0
        else:
            dt = t_s - self._t_s
            self._peak_ms *= exp(-dt / self.PEAK_TAU_S)
            gain = 1.0 - exp(-dt / self.MEAN_TAU_S)
        self._t_s = t_s
        if wind_ms > self._peak_ms:
            self._peak_ms = wind_ms
        self._mean_ms += gain * (wind_ms - self._mean_ms)
        if from_deg is not None:
            angle = radians(from_deg)
            self._mean_x += gain * (sin(angle) - self._mean_x)
            self._mean_y += gain * (cos(angle) - self._mean_y)
            self._weight += gain * (1.0 - self._weight)

    def known(self, t_s: float) -> bool:
        """There is a reading young enough to go by."""
        return self._t_s is not None and t_s - self._t_s <= self.STALE_S

    @property
    def mean_ms(self) -> float:
        return self._mean_ms

    @property
    def towards_wind(self) -> tuple[float, float] | None:
        """Unit-like vector (east, north) to where the wind blows from; None when not known."""
        if self._weight < 0.5:
            return None
        return self._mean_x / self._weight, self._mean_y / self._weight

    def highest_pull_n(self, t_s: float) -> float:
        """What the rode may be pulled with just now."""
        if not self.known(t_s):
            return NO_WIND_KNOWN_N
        return self._n_per_ms2 * self._peak_ms * self._peak_ms + LEAST_N

    def usual_pull_n(self) -> float:
        """What it is pulled with on the mean."""
        return USUAL_SHARE * self._n_per_ms2 * self._mean_ms * self._mean_ms

    def sway_pull_n(self, rms_ms: float) -> float:
        """Pull guessed from how fast a boat sails about (m/s rms), on the low side.

        Simulated boats of 7 to 16 m move at 0.12 m/s rms in 6.5 m/s of wind, 0.25 in 10.
        """
        wind = 3.0 + 20.0 * rms_ms
        return USUAL_SHARE * self._n_per_ms2 * wind * wind

    def snapshot(self) -> list[float | None]:
        """Plain numbers to keep over a restart."""
        return [
            self._t_s, self._peak_ms, self._mean_ms, self._mean_x, self._mean_y, self._weight
        ]  # fmt: skip

    def restore(self, kept: list[float | None]) -> None:
        """From `snapshot`."""
        self._t_s = kept[0]
        numbers = [0.0 if k is None else k for k in kept[1:6]]
        self._peak_ms, self._mean_ms, self._mean_x, self._mean_y, self._weight = numbers
