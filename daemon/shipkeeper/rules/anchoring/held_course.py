"""A course that the receiver holds: at rest many show the last one, beside a speed that is noise.

A boat that has just laid out her rode moved away from her anchor last. So a course held from
then makes of every tenth of a knot of noise a steady way outward, which her fixes do not show.
(Seen in a real recording: five minutes at rest, 0.18 kn on the mean, two courses in all.) Such
a course is none. It is found out by the fixes the first time, and known for what it is from then
on; a boat that goes on a steady course is shown to do so by her fixes.
"""

from __future__ import annotations

from math import cos, radians, sin

SLOW_MS = 0.3  # over this no receiver holds its course (our choice; the recording shows 0.18)
HELD_S, HELD_FIXES = 15.0, 6  # so long and so often one value: Doppler noise turns a slow course
WAY_M = 8.0  # made good by the speed alone, before the fixes are asked
SHOWN = 0.4  # of that way, in that direction, the fixes show at least where it is true


class HeldCourse:
    """Feed every fix with its speed and course; the course comes back, None when it is held."""

    __slots__ = ("_course", "_fixes", "_since_s", "_t_s", "_way_m", "_x_m", "_y_m", "known")

    def __init__(self) -> None:
        self._course: float | None = None
        self.known = False  # this receiver has been found out
        self._fixes = 0
        self._since_s = self._t_s = 0.0
        self._way_m = self._x_m = self._y_m = 0.0

    def told(
        self, t_s: float, x_m: float, y_m: float, sog_ms: float | None, cog_deg: float | None
    ) -> float | None:
        """t_s, x_m east, y_m north: of the fix; sog_ms and cog_deg as the receiver tells them."""
        if sog_ms is None or cog_deg is None or sog_ms >= SLOW_MS or cog_deg != self._course:
            self._course, self._fixes, self._way_m = cog_deg, 0, 0.0
            self._since_s = self._t_s = t_s
            self._x_m, self._y_m = x_m, y_m
            return cog_deg
        self._fixes += 1
        self._way_m += sog_ms * min(t_s - self._t_s, 3.0)
        self._t_s = t_s
        if self._fixes < HELD_FIXES or t_s - self._since_s < HELD_S:
            return cog_deg
        if not self.known and self._way_m >= WAY_M:
            course = radians(cog_deg)
            shown_m = (x_m - self._x_m) * sin(course) + (y_m - self._y_m) * cos(course)
            self.known = shown_m < SHOWN * self._way_m
        return None if self.known else cog_deg
