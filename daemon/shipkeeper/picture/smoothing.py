"""Course and speed of a radar target from its noisy places.

A fading straight line through the places: the classical alpha-beta filter whose gains start as
those of a least-squares line through all n places, 2(2n-1)/(n(n+1)) and 6/(n(n+1)), and stop
falling when n covers `MEMORY_S`. (Textbook form of the expanding-memory filter; from memory.)
A ship that turns leaves the line: when the places lie to one side of it by more than their
noise explains, n is taken back and the line starts afresh, so that a turn shows within a few
turns of the antenna and not after the memory has run out.
"""

from __future__ import annotations

import math

from ..words.geo import LatLon, east_north, from_east_north

MEMORY_S = 120.0
LEAST_N = 2
AFRESH_N = 6
BIAS_OVER = 5  # the side that places lie to is judged over about so many of them
LEAST_NOISE_M = 8.0
SIGNIFICANT = 3.2
GAP_S = 60.0  # after a longer silence the line starts anew; a radar's, unless told otherwise


class Smoother:
    """One track. Feed it places; read `place` and `velocity`."""

    __slots__ = (
        "_at_s", "_bias_e", "_bias_n", "_gap_s", "_interval_s", "_n", "_noise", "first_s",
        "place", "velocity",
    )  # fmt: skip

    def __init__(self, place: LatLon, at_s: float, gap_s: float = GAP_S) -> None:
        self.first_s = at_s
        self._gap_s = gap_s
        self._begin(place, at_s)

    def _begin(self, place: LatLon, at_s: float) -> None:
        self.place = place
        self.velocity = (0.0, 0.0)
        self._at_s = at_s
        self._n = 1
        self._interval_s = 2.5
        self._bias_e = self._bias_n = 0.0
        self._noise = 3.0 * LEAST_NOISE_M

    @property
    def known_s(self) -> float:
        """For how long the track has been followed."""
        return self._at_s - self.first_s

    @property
    def is_steady(self) -> bool:
        """Enough places for a course to mean something."""
        return self._n >= 4

    def put(self, place: LatLon, at_s: float) -> None:
        step = at_s - self._at_s
        if step <= 0.0:
            return
        if step > self._gap_s:
            self._begin(place, at_s)
            self.first_s = at_s
            return
        self._interval_s += 0.2 * (step - self._interval_s)
        ahead = from_east_north(self.place, self.velocity[0] * step, self.velocity[1] * step)
        east, north = east_north(ahead, place)
        self._n = min(self._n + 1, max(AFRESH_N, round(MEMORY_S / self._interval_s)))
        if self._n > AFRESH_N:
            self._watch_for_turn(east, north)
        n = self._n
        alpha = 2.0 * (2 * n - 1) / (n * (n + 1))
        beta = 6.0 / (n * (n + 1))
        if n <= LEAST_N:
            alpha, beta = 1.0, 1.0
        self.place = from_east_north(ahead, alpha * east, alpha * north)
        ve, vn = self.velocity
        self.velocity = (ve + beta * east / step, vn + beta * north / step)
        self._at_s = at_s

    def _watch_for_turn(self, east: float, north: float) -> None:
        share = 1.0 / BIAS_OVER
        self._bias_e += share * (east - self._bias_e)
        self._bias_n += share * (north - self._bias_n)
        miss = math.hypot(east, north)
        self._noise += 0.05 * (min(miss, 4.0 * self._noise) - self._noise)
        # The mean of k misses scatters by 1/sqrt(k); a fading mean over k by 1/sqrt(2k - 1).
        scatter = max(self._noise, LEAST_NOISE_M) / math.sqrt(2 * BIAS_OVER - 1)
        if math.hypot(self._bias_e, self._bias_n) > SIGNIFICANT * scatter:
            self._n = AFRESH_N
            self._bias_e = self._bias_n = 0.0
