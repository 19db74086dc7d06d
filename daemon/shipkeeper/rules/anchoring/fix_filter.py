"""Where the antenna is: position and receiver error told apart by the receiver's own speed.

State of each axis: position p and error b of the fix. p is moved on by the Doppler speed and
course, which know nothing of the slow wander of the fix; b is a first-order Gauss-Markov
process (2 m, 400 s). The fix shows p + b. Both axes have the same covariance, so it is
reckoned once. Fixes too far from what is expected are refused for a while, then believed: a
real move outlasts multipath. When they are believed although the Doppler speed saw no move,
most of the jump is put down to the receiver.

Without Doppler (none sent, or a receiver that shows small speeds as zero) p moves by itself
as a boat at anchor does, and the filter is little more than a smoothed fix.
"""

from math import exp, hypot, sqrt

WANDER_M = 2.0
WANDER_TAU_S = 400.0
USUAL_HDOP = 0.9
WHITE_M2 = 0.36  # of a fix a second
DOPPLER_M2_PER_S = 0.004  # and three times the variance of its roughness
SETTLE_S = 5.0  # after refused ones: fixes must agree for so long, or a passing ramp is believed
SUDDEN_MS = 0.6  # off its smoothed value: more than a boat at anchor changes in seconds
MOTION_M2_PER_S = 0.3  # of a boat sailing about, when no Doppler shows it
MOTION_MS = 0.25
WAY_TAU_S = 15.0
_CLAMP_MS = 0.3  # unseen speed of a receiver that clamps, until it shows smaller ones
CLAMP_TAU_S = 2.0
_GAP_MS = 0.6  # unknown motion in a dropout
GATE_M = 1.2
GATE_SIGMAS = 4.0
PATIENCE_S = 150.0
UNSEEN_MS = 0.2
_HDOP_TAU_S = 30.0
_ZEROS_TAU_S = 300.0


class FixFilter:
    """Feed fixes in order of time; read `x_m`, `y_m`, `sigma_m`, `trusted`.

    `east_ms`, `north_ms`: smoothed speed over the ground, None without Doppler.
    """

    __slots__ = (
        "_bx",
        "_by",
        "_dop_x",
        "_dop_y",
        "_fresh_s",
        "_hdop",
        "_hidden",
        "_innovation",
        "_least_ms",
        "_pbb",
        "_ppb",
        "_ppp",
        "_refused_since_s",
        "_rough",
        "_sailing",
        "_settling_s",
        "_t_s",
        "_way_x",
        "_way_y",
        "_zeros",
        "accepted",
        "doppler",
        "east_ms",
        "gap_s",
        "north_ms",
        "scale",
        "sigma_m",
        "x_m",
        "y_m",
    )

    def __init__(self) -> None:
        self._t_s: float | None = None
        self._fresh_s: float | None = None  # time of the last accepted fix
        self._refused_since_s: float | None = None
        self._settling_s: float | None = None  # within the gate again since
        self._bx = self._by = 0.0
        self._ppp = 1e6
        self._ppb = 0.0
        self._pbb = WANDER_M**2
        self._hdop = USUAL_HDOP
        self._zeros = 0.0
        self._least_ms = _CLAMP_MS
        self._rough = 0.004
        self._sailing = False
        self._hidden = False
        self._way_x = self._way_y = 0.0
        self._dop_x = self._dop_y = 0.0
        self._innovation = 0.0
        self.scale = 1.0
        self.x_m = self.y_m = 0.0
        self.sigma_m = 1e3
        self.accepted = False
        self.doppler = False
        self.east_ms: float | None = None
        self.north_ms: float | None = None
        self.gap_s = 0.0

    @property
    def started(self) -> bool:
        return self._fresh_s is not None

    @property
    def way_ms(self) -> tuple[float, float] | None:
        """Way over the ground (east, north) as Doppler shows it; None without."""
        if self.east_ms is None or self.north_ms is None:
            return None
        return self.east_ms, self.north_ms

    @property
    def innovation_m(self) -> float:
        """How far the last fix was from what was expected (m)."""
        return self._innovation

    def age_s(self, t_s: float) -> float | None:
        """Time since the last accepted fix; None before the first."""
        return None if self._fresh_s is None else t_s - self._fresh_s

    def step(
        self,
        t_s: float,
        x_m: float,
        y_m: float,
        east_ms: float | None,
        north_ms: float | None,
        hdop: float | None,
    ) -> bool:
        """Take one fix; True when it was believed. Time must not go back."""
        if self._t_s is None:
            self._begin(t_s, x_m, y_m, hdop)
            return True
        dt = t_s - self._t_s
        if dt <= 0.0:
            return False
        self._t_s = t_s
        self.gap_s = dt
        if hdop is not None:
            self._hdop += (1.0 - exp(-dt / _HDOP_TAU_S)) * (hdop - self._hdop)
        scale = self._hdop / USUAL_HDOP
        self.scale = scale = 0.8 if scale < 0.8 else 2.2 if scale > 2.2 else scale
        self._move(dt, east_ms, north_ms)
        keep = exp(-dt / WANDER_TAU_S)
        self._bx *= keep
        self._by *= keep
        self._ppb *= keep
        self._pbb = keep * keep * self._pbb + (WANDER_M * scale) ** 2 * (1.0 - keep * keep)
        return self._observe(t_s, dt, x_m, y_m)

    def _begin(self, t_s: float, x_m: float, y_m: float, hdop: float | None) -> None:
        self._t_s = self._fresh_s = t_s
        self.x_m, self.y_m = x_m, y_m
        if hdop is not None:
            self._hdop = hdop
            scale = hdop / USUAL_HDOP
            self.scale = 0.8 if scale < 0.8 else 2.2 if scale > 2.2 else scale
        self._pbb = (WANDER_M * self.scale) ** 2
        self._ppb = -self._pbb
        self._ppp = self._pbb + WHITE_M2
        self.sigma_m = sqrt(self._ppp)
        self.accepted = True

    def _move(self, dt: float, east_ms: float | None, north_ms: float | None) -> None:
        """Carry p on over dt: by Doppler when there is one, else by its own way so far."""
        if east_ms is None or north_ms is None:
            self._sailing = False
            self._coast(dt)
        else:
            self._sailing = True
            self._sail(dt, east_ms, north_ms)
        if dt > 3.0:
            # A speed read at the end of a gap says little of the gap.
            share = min(1.0, (dt - 3.0) / 17.0)
            self._ppp += share * (_GAP_MS * dt) ** 2

    def _coast(self, dt: float) -> None:
        """No Doppler: the way of the last accepted fixes, which dies away when none come."""
        self.doppler = False
        self.east_ms = self.north_ms = None
        keep = exp(-dt / WAY_TAU_S) if self._refused_since_s is not None or dt > 3.0 else 1.0
        self._way_x *= keep
        self._way_y *= keep
        if dt < 12.0:
            self.x_m += self._way_x * dt
            self.y_m += self._way_y * dt
        if self._refused_since_s is None:
            self._ppp += MOTION_M2_PER_S * dt + (MOTION_MS * dt) ** 2

    def _sail(self, dt: float, east_ms: float, north_ms: float) -> None:
        """By Doppler; a speed that no boat changes to so soon is put down to the receiver."""
        ve, vn = self.east_ms, self.north_ms
        if ve is None or vn is None or dt > 10.0:
            ve, vn = east_ms, north_ms
        de, dn = east_ms - ve, north_ms - vn
        off = hypot(de, dn)
        most = SUDDEN_MS + 3.0 * sqrt(self._rough)
        if off > most and self._refused_since_s is not None:
            de = dn = 0.0  # fixes are wild as well: the receiver, not the boat
        elif off > most:
            de *= most / off
            dn *= most / off
            self._ppp += min((off - most) ** 2 * 0.1, 0.3) * dt
        east_ms, north_ms = ve + de, vn + dn
        speed = hypot(east_ms, north_ms)
        zero = east_ms == 0.0 and north_ms == 0.0
        gain = 1.0 - exp(-dt / _ZEROS_TAU_S)
        self._zeros += gain * ((1.0 if zero else 0.0) - self._zeros)
        if zero:
            self._least_ms += gain * 0.3 * (_CLAMP_MS - self._least_ms)
        elif speed < self._least_ms:
            self._least_ms = speed
        clamped = self._zeros > 0.05
        self.doppler = not clamped
        if dt < 3.0:
            self.x_m += 0.5 * (east_ms + self._dop_x) * dt
            self.y_m += 0.5 * (north_ms + self._dop_y) * dt
        else:
            self.x_m += east_ms * dt
            self.y_m += north_ms * dt
        self._ppp += DOPPLER_M2_PER_S * dt
        if self._refused_since_s is None:
            self._ppp += 3.0 * self._rough * dt
        self._hidden = clamped and speed <= self._least_ms
        if self._hidden:
            self._creep(dt)
        self._dop_x, self._dop_y = east_ms, north_ms
        gain = 1.0 - exp(-dt / 5.0)
        self.east_ms = ve + gain * de
        self.north_ms = vn + gain * dn
        if dt < 3.0:
            self._rough += (1.0 - exp(-dt / 120.0)) * (0.5 * (de * de + dn * dn) - self._rough)

    def _creep(self, dt: float) -> None:
        """Way under the speed at which the receiver shows zero: known from the fixes alone."""
        most = self._least_ms
        way = hypot(self._way_x, self._way_y)
        if way > most:
            self._way_x *= most / way
            self._way_y *= most / way
        if self._refused_since_s is None and dt < 12.0:
            self.x_m += self._way_x * dt
            self.y_m += self._way_y * dt
            self._ppp += CLAMP_TAU_S * most * most * dt
        else:
            keep = exp(-dt / WAY_TAU_S)
            self._way_x *= keep
            self._way_y *= keep

    def _observe(self, t_s: float, dt: float, x_m: float, y_m: float) -> bool:
        white = WHITE_M2 * self.scale * self.scale * (1.0 / dt if dt < 1.0 else 1.0)
        total = self._ppp + 2.0 * self._ppb + self._pbb + white
        dx = x_m - self.x_m - self._bx
        dy = y_m - self.y_m - self._by
        self._innovation = innovation = hypot(dx, dy)
        gate = GATE_M + GATE_SIGMAS * sqrt(total)
        since = self._refused_since_s
        if since is not None:
            gate += self._unseen_ms() * (t_s - since)
        settled = True
        if innovation > gate:
            self._settling_s = None
        elif since is not None and dt < SETTLE_S:
            if self._settling_s is None:
                self._settling_s = t_s
            settled = t_s - self._settling_s >= SETTLE_S
        if innovation > gate or not settled:
            if since is None:
                self._refused_since_s = since = t_s
            if t_s - since < PATIENCE_S:
                self.accepted = False
                self.sigma_m = sqrt(self._ppp)
                return False
            # Believed at last. With Doppler the receiver jumped; without, the boat may have.
            jump = innovation * innovation
            self._ppp += (0.1 if self._sailing else 1.0) * jump
            self._pbb += (1.0 if self._sailing else 0.1) * jump
            total = self._ppp + 2.0 * self._ppb + self._pbb + white
        elif since is not None:
            self._ppp += (self._unseen_ms() * (t_s - since)) ** 2
            total = self._ppp + 2.0 * self._ppb + self._pbb + white
        self._refused_since_s = self._settling_s = None
        kp = (self._ppp + self._ppb) / total
        kb = (self._ppb + self._pbb) / total
        self.x_m += kp * dx
        self.y_m += kp * dy
        self._bx += kb * dx
        self._by += kb * dy
        if (self._hidden or not self._sailing) and dt < 12.0:
            gain = min(dt / WAY_TAU_S, 0.5) * kp / dt
            if self.gap_s < 3.0:
                gain *= 0.5
            self._way_x += gain * dx
            self._way_y += gain * dy
        pp, pb, bb = self._ppp, self._ppb, self._pbb
        self._ppp = pp - kp * (pp + pb)
        self._ppb = pb - kp * (pb + bb)
        self._pbb = bb - kb * (pb + bb)
        self.sigma_m = sqrt(self._ppp) if self._ppp > 0.0 else 0.0
        self.accepted = True
        self._fresh_s = t_s
        return True

    def _unseen_ms(self) -> float:
        """Speed of the boat that may go unnoticed while fixes are refused (m/s)."""
        if self.doppler:
            return 0.03
        return 0.5 * self._least_ms if self._sailing else UNSEEN_MS

    def idle(self, t_s: float) -> None:
        """No fix at this time: only the clock is taken; the next step knows the gap."""
        if self._fresh_s is not None and self._ppp < 1e6:
            self.accepted = False

    def snapshot(self) -> list[float | None]:
        """Plain numbers to keep over a restart."""
        return [
            self._t_s, self._fresh_s, self._bx, self._by, self._ppp, self._ppb, self._pbb,
            self._hdop, self._zeros, self.x_m, self.y_m, self._least_ms, self._rough,
        ]  # fmt: skip

    def restore(self, kept: list[float | None]) -> None:
        """From `snapshot`; a gap shows at the next step by its time."""
        numbers = [0.0 if k is None else k for k in kept]
        self._t_s, self._fresh_s = kept[0], kept[1]
        (self._bx, self._by, self._ppp, self._ppb, self._pbb, self._hdop, self._zeros, self.x_m,
         self.y_m, self._least_ms, self._rough) = numbers[2:13]  # fmt: skip
        self._refused_since_s = None
