"""The tide read off the boat's own sounder: when will it fall to a given depth, and how far?

A minute's mean depths of the last hours are fitted with one wave of the principal lunar
semidiurnal period (12.4206 h, M2) about a mean level, by least squares with a gentle pull
towards small amplitudes, so that a short record bends as a tide does instead of running off
along a straight line. No forecast is made from less than `NEEDED_S` of record, nor for a wave
that explains less than the scatter. Where the crew told how much the water will rise yet, the
height of the next high water is known too, and the wave is drawn towards it as by `TOP_WEIGHT`
minutes of soundings: it stands in for a high water that the sounder did not see.

Source of the period: the lunar day's half, any tidal handbook (from memory). The method is ours.
"""

from __future__ import annotations

import math

import msgspec

M2_S = 12.4206 * 3600.0
KEEP_S = 8 * 3600.0
_TURN_S = 2 * math.pi / M2_S  # radians a second
NEEDED_S = 40 * 60.0
OLD_S = 1800.0
STEP_S = 60.0
RIDGE = 0.003
TOP_WEIGHT = 20.0
SEEN_S = 600.0  # soundings so near high water saw it themselves
TURNS = 180  # places of the high water that are tried, in half a day


class _Kept(msgspec.Struct, array_like=True):
    times: list[float]
    depths: list[float]
    rise_m: float = 0.0
    top_m: float | None = None


class Ahead(msgspec.Struct, frozen=True):
    """What comes, in seconds from now; None for what does not come before the water rises."""

    reaches_s: float | None = None  # the limit
    touches_s: float | None = None  # the ground
    low_s: float | None = None  # low water,
    low_m: float | None = None  # and the depth then


class _Wave(msgspec.Struct, frozen=True):
    """mean + height * cos(turn - top): depth at the time of `turn` radians from now."""

    mean: float
    height: float
    top: float

    def at(self, turn: float) -> float:
        return self.mean + self.height * math.cos(turn - self.top)

    def falls_to(self, depth: float) -> float | None:
        """Seconds until the falling water gets there; None when low water stays above."""
        if self.at(0.0) < depth:
            return STEP_S
        if self.mean - self.height >= depth:
            return None
        turn = self.top + math.acos(max(-1.0, min(1.0, (depth - self.mean) / self.height)))
        return turn % (2 * math.pi) / _TURN_S


class TideTrend:
    """Minute means of depth and the wave through them."""

    def __init__(self) -> None:
        self.start()

    def start(self) -> None:
        """Begin anew: the record of another berth says nothing of this one."""
        self._times: list[float] = []
        self._depths: list[float] = []
        self._minute: float | None = None
        self._sum = 0.0
        self._count = 0
        self._rise_m = 0.0
        self._rises_yet = False
        self._top_m: float | None = None

    def will_rise(self, rise_m: float) -> None:
        """How much the water will rise yet, as the crew told it; 0 when nobody did. Counts from
        the minute in which that is news."""
        if rise_m != self._rise_m:
            self._rise_m, self._top_m, self._rises_yet = rise_m, None, rise_m > 0

    def take(self, at_s: float, depth_m: float) -> None:
        minute = at_s // STEP_S
        if self._minute is not None and minute != self._minute and self._count:
            self._times.append((self._minute + 0.5) * STEP_S)
            self._depths.append(self._sum / self._count)
            if self._rises_yet:
                self._top_m, self._rises_yet = self._depths[-1] + self._rise_m, False
            self._sum, self._count = 0.0, 0
            while self._times and at_s - self._times[0] > KEEP_S:
                del self._times[0], self._depths[0]
        self._minute = minute
        self._sum += depth_m
        self._count += 1

    def ahead(self, limit_m: float, ground_m: float | None, now_s: float) -> Ahead:
        """When the water falls to the limit and to the ground, and the next low water."""
        wave = self._wave(now_s)
        if wave is None:
            return Ahead()
        is_down = ground_m is not None and wave.at(0.0) < ground_m
        return Ahead(
            reaches_s=wave.falls_to(limit_m),
            touches_s=None if ground_m is None or is_down else wave.falls_to(ground_m),
            low_s=(wave.top + math.pi) % (2 * math.pi) / _TURN_S,
            low_m=wave.mean - wave.height,
        )

    def is_known(self, now_s: float) -> bool:
        """Whether the record is long and fresh enough to say anything."""
        times = self._times
        return len(times) >= 20 and times[-1] - times[0] >= NEEDED_S and now_s - times[-1] <= OLD_S

    def remember(self) -> bytes | None:
        if not self._times:
            return None
        every = max(1, len(self._times) // 120)
        depths = [round(d, 2) for d in self._depths[::every]]
        kept = _Kept(self._times[::every], depths, self._rise_m, self._top_m)
        return msgspec.json.encode(kept)

    def recall(self, state: bytes, now_s: float) -> None:
        try:
            kept = msgspec.json.decode(state, type=_Kept)
        except ValueError:  # msgspec's own errors, and text that is not UTF-8
            return
        pairs = [
            (t, d)
            for t, d in zip(kept.times, kept.depths, strict=False)
            if 0 <= now_s - t <= KEEP_S
        ]
        self._times = [t for t, _ in pairs]
        self._depths = [d for _, d in pairs]
        if pairs:
            self._rise_m, self._top_m = kept.rise_m, kept.top_m

    def _wave(self, now_s: float) -> _Wave | None:
        """Through the record, and through the last minutes of it whatever the rest says."""
        times, depths = self._times, self._depths
        if not self.is_known(now_s):
            return None
        n = len(times)
        middle = sum(depths) / n
        s = [[0.0] * 3 for _ in range(3)]
        r = [0.0] * 3
        for t, d in zip(times, depths, strict=True):
            turn = _TURN_S * (t - now_s)
            row = (1.0, math.cos(turn), math.sin(turn))
            for i in range(3):
                r[i] += row[i] * (d - middle)
                for j in range(3):
                    s[i][j] += row[i] * row[j]
        s[1][1] += RIDGE * n
        s[2][2] += RIDGE * n
        solved = _solve(s, r)
        if solved is None:
            return None
        level, a, b = solved
        top_m = self._top_m
        top_s = now_s + (math.atan2(b, a) % (2 * math.pi)) / _TURN_S - M2_S
        if top_m is not None and not any(abs(t - top_s) < SEEN_S for t in times):
            weight = TOP_WEIGHT * min(1.0, n * STEP_S / (times[-1] - times[0]))
            level, a, b = _drawn(s, r, top_m - middle, weight)
        model = [
            level + a * math.cos(_TURN_S * (t - now_s)) + b * math.sin(_TURN_S * (t - now_s))
            for t in times
        ]
        scatter = math.sqrt(
            sum((d - middle - m) ** 2 for d, m in zip(depths, model, strict=True)) / n
        )
        swing = max(model) - min(model)
        if swing < 2 * scatter or swing < 0.1:
            return None
        late = range(max(0, n - 10), n)
        shift = sum(depths[i] - middle - model[i] for i in late) / len(late)
        return _Wave(middle + level + shift, math.hypot(a, b), math.atan2(b, a))


def _drawn(
    s: list[list[float]], r: list[float], top: float, weight: float
) -> tuple[float, float, float]:
    """The same least squares with the wave's top drawn to `top`: (mean, cosine, sine). Which way
    the wave stands is tried all round; for each, mean and height are two equations. weight: in
    soundings."""
    best, found = math.inf, (0.0, 0.0, 0.0)
    for number in range(TURNS):
        c, d = math.cos(2 * math.pi * number / TURNS), math.sin(2 * math.pi * number / TURNS)
        one, both = s[0][0] + weight, c * s[0][1] + d * s[0][2] + weight
        squares = c * c * s[1][1] + 2 * c * d * s[1][2] + d * d * s[2][2] + weight
        left, right = r[0] + weight * top, c * r[1] + d * r[2] + weight * top
        determinant = one * squares - both * both
        if determinant < 1e-9:
            continue
        mean = (left * squares - right * both) / determinant
        height = (one * right - both * left) / determinant
        cost = -(left * mean + right * height)
        if height > 0 and cost < best:
            best, found = cost, (mean, height * c, height * d)
    return found


def _solve(s: list[list[float]], r: list[float]) -> tuple[float, float, float] | None:
    """Three equations by elimination with the largest pivot."""
    m = [[*row, value] for row, value in zip(s, r, strict=True)]
    for column in range(3):
        pivot = max(range(column, 3), key=lambda i: abs(m[i][column]))
        if abs(m[pivot][column]) < 1e-12:
            return None
        m[column], m[pivot] = m[pivot], m[column]
        for i in range(3):
            if i != column:
                factor = m[i][column] / m[column][column]
                m[i] = [x - factor * y for x, y in zip(m[i], m[column], strict=True)]
    return m[0][3] / m[0][0], m[1][3] / m[1][1], m[2][3] / m[2][2]
