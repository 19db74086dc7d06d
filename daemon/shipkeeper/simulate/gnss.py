"""What the receiver says: the truth, wandering error, white noise, and things going wrong.

The error of each axis is two first-order Gauss-Markov processes (minutes: atmosphere and orbits
and slow multipath; tens of seconds: local multipath at a boat that swings) and white noise. Its
size follows HDOP over the receiver's usual HDOP: position error = HDOP times range error, drms =
HDOP x UERE (GPS accuracy texts). Time scales are from memory of recorded fixes, not from a
standard. The receiver's velocity is from Doppler: good to some cm/s, smoothed, and by some
receivers set to zero when slow; the course of a slow boat is noise.
"""

from math import atan2, degrees, exp, hypot, log, pi, sin, sqrt

from shipkeeper.simulate.noise import normal as normal_source
from shipkeeper.simulate.plan import GnssFault, NightPlan

_HDOP_TAU_S = 1500.0
_WAVE_GAIN = 0.012  # antenna motion in a chop, metres (and m/s) for each m/s of wind
_HIDDEN = 0.5  # a receiver in multipath owns up to part of it only


class Receiver:
    """Steps through the night; `x_m`, `y_m`, `hdop`, `sog_ms`, `cog_deg` are its last words.

    None: no fix (dropout), or no course (speed clamped to zero).
    """

    __slots__ = (
        "_ahead", "_gnss", "_hdop_log", "_keep_hdop", "_keep_lag", "_keep_quick", "_keep_slow",
        "_keep_speed", "_new_hdop", "_new_quick", "_new_slow", "_new_speed", "_normal", "_quick_x",
        "_quick_y", "_running", "_slow_x", "_slow_y", "_speed_x", "_speed_y", "_ve", "_vn",
        "_white_m", "cog_deg", "error_x_m", "error_y_m", "hdop", "sog_ms", "x_m", "y_m",
    )  # fmt: skip

    def __init__(self, plan: NightPlan, tick_s: float) -> None:
        """Starts in the steady state of its errors; `tick_s` is the time between fixes."""
        gnss = plan.gnss
        self._gnss = gnss
        self._normal = normal = normal_source(plan.seed, "gnss")
        sigma_slow = gnss.sigma_m * sqrt(gnss.slow_share)
        sigma_quick = gnss.sigma_m * sqrt(gnss.quick_share)
        self._white_m = gnss.sigma_m * sqrt(max(0.0, 1 - gnss.slow_share - gnss.quick_share))
        self._keep_slow, self._new_slow = _coloured(tick_s, gnss.slow_tau_s, sigma_slow)
        self._keep_quick, self._new_quick = _coloured(tick_s, gnss.quick_tau_s, sigma_quick)
        self._keep_hdop, self._new_hdop = _coloured(tick_s, _HDOP_TAU_S, gnss.hdop_wander)
        self._keep_speed, self._new_speed = _coloured(tick_s, gnss.speed_tau_s, gnss.speed_sigma_ms)
        self._keep_lag = exp(-tick_s / gnss.speed_lag_s) if gnss.speed_lag_s > 0.0 else 0.0
        self._slow_x, self._slow_y = normal() * sigma_slow, normal() * sigma_slow
        self._quick_x, self._quick_y = normal() * sigma_quick, normal() * sigma_quick
        self._hdop_log = normal() * gnss.hdop_wander
        self._speed_x = self._speed_y = self._ve = self._vn = 0.0
        self._ahead = sorted(gnss.faults, key=lambda f: f.start_s, reverse=True)
        self._running: list[GnssFault] = []
        self.error_x_m = self.error_y_m = 0.0
        self.x_m: float | None = None
        self.y_m: float | None = None
        self.hdop: float | None = None
        self.sog_ms: float | None = None
        self.cog_deg: float | None = None

    def step(
        self, t_s: float, x_m: float, y_m: float, east_ms: float, north_ms: float, wind_ms: float
    ) -> None:
        """A fix at `t_s` of an antenna really at (x, y) with a velocity over the ground."""
        normal = self._normal
        self._hdop_log = self._keep_hdop * self._hdop_log + self._new_hdop * normal()
        self._slow_x = self._keep_slow * self._slow_x + self._new_slow * normal()
        self._slow_y = self._keep_slow * self._slow_y + self._new_slow * normal()
        self._quick_x = self._keep_quick * self._quick_x + self._new_quick * normal()
        self._quick_y = self._keep_quick * self._quick_y + self._new_quick * normal()
        scale = exp(self._hdop_log)
        wave = _WAVE_GAIN * wind_ms
        white = hypot(self._white_m * scale, wave)
        error_x = scale * (self._slow_x + self._quick_x) + white * normal()
        error_y = scale * (self._slow_y + self._quick_y) + white * normal()
        hdop = self._gnss.hdop * scale
        shaken = wave
        if self._running or (self._ahead and t_s >= self._ahead[-1].start_s):
            lost, more_x, more_y, rise = self._faults(t_s)
            error_x += more_x
            error_y += more_y
            hdop += rise
            shaken += 0.01 * hypot(more_x, more_y)
        else:
            lost = False
        self.error_x_m, self.error_y_m = error_x, error_y
        self._velocity(east_ms, north_ms, shaken)
        if lost:
            self.x_m = self.y_m = self.hdop = self.sog_ms = self.cog_deg = None
            return
        self.x_m, self.y_m, self.hdop = x_m + error_x, y_m + error_y, round(hdop, 1)
        grain = self._gnss.resolution_m
        if grain > 0.0:
            self.x_m = round(self.x_m / grain) * grain
            self.y_m = round(self.y_m / grain) * grain

    def _velocity(self, east_ms: float, north_ms: float, shaken_ms: float) -> None:
        """Doppler speed and course with noise, smoothing and clamp."""
        normal = self._normal
        new = hypot(self._new_speed, shaken_ms * 0.5)
        self._speed_x = self._keep_speed * self._speed_x + new * normal()
        self._speed_y = self._keep_speed * self._speed_y + new * normal()
        keep = self._keep_lag
        self._ve = ve = keep * self._ve + (1 - keep) * (east_ms + self._speed_x)
        self._vn = vn = keep * self._vn + (1 - keep) * (north_ms + self._speed_y)
        speed = sqrt(ve * ve + vn * vn)
        if speed < self._gnss.clamp_ms:
            self.sog_ms, self.cog_deg = 0.0, None
        else:
            self.sog_ms, self.cog_deg = speed, degrees(atan2(ve, vn)) % 360.0

    def _faults(self, t_s: float) -> tuple[bool, float, float, float]:
        """(no fix, error east, error north, rise of HDOP) from what goes wrong now."""
        while self._ahead and t_s >= self._ahead[-1].start_s:
            fault = self._ahead.pop()
            if fault.kind == "step":
                self._slow_x += fault.east_m
                self._slow_y += fault.north_m
            else:
                self._running.append(fault)
        lost = False
        error_x = error_y = rise = 0.0
        over = False
        for fault in self._running:
            part = (t_s - fault.start_s) / max(fault.duration_s, 1e-9)
            if part >= 1.0:
                over = True
                continue
            if fault.kind == "dropout":
                lost = True
                continue
            share = sin(pi * part) ** 0.5 if fault.kind == "multipath" else 1.0
            error_x += share * fault.east_m
            error_y += share * fault.north_m
            rise = max(rise, share * fault.hdop_rise)
        if over:
            self._running = [f for f in self._running if t_s < f.start_s + f.duration_s]
        return lost, error_x, error_y, rise


def _coloured(tick_s: float, tau_s: float, sigma: float) -> tuple[float, float]:
    """(what is kept of the last value, size of the new part) of a Gauss-Markov process."""
    if tau_s <= 0.0:
        return 0.0, sigma
    keep = exp(-tick_s / tau_s)
    return keep, sigma * sqrt(1 - keep * keep)


def hdop_rise_for(error_m: float, hdop: float) -> float:
    """How much HDOP a receiver adds when it notices an excursion; never the whole of it."""
    return _HIDDEN * hdop * log(1.0 + error_m / 10.0)
