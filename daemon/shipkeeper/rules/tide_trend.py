"""The tide read off the boat's own sounder: when will it fall to a given depth?

A minute's mean depths of the last hours are fitted with one wave of the principal lunar
semidiurnal period (12.4206 h, M2) about a mean level, by least squares with a gentle pull
towards small amplitudes, so that a short record bends as a tide does instead of running off
along a straight line. No forecast is made from less than `NEEDED_S` of record, nor for a wave
that explains less than the scatter.

Source of the period: the lunar day's half, any tidal handbook (from memory). The method is ours.
"""

from __future__ import annotations

import math

import msgspec

M2_S = 12.4206 * 3600.0
KEEP_S = 8 * 3600.0
NEEDED_S = 40 * 60.0
STEP_S = 60.0
LOOK_STEP_S = 60.0
RIDGE = 0.003


class _Kept(msgspec.Struct, array_like=True):
    times: list[float]
    depths: list[float]


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

    def take(self, at_s: float, depth_m: float) -> None:
        minute = at_s // STEP_S
        if self._minute is not None and minute != self._minute and self._count:
            self._times.append((self._minute + 0.5) * STEP_S)
            self._depths.append(self._sum / self._count)
            self._sum, self._count = 0.0, 0
            while self._times and at_s - self._times[0] > KEEP_S:
                del self._times[0], self._depths[0]
        self._minute = minute
        self._sum += depth_m
        self._count += 1

    def falls_to(
        self, limit_m: float, now_s: float, within_s: float
    ) -> tuple[float | None, float | None]:
        """(seconds until the depth is `limit_m`, lowest depth within that time), Nones if not."""
        wave = self._wave(now_s)
        if wave is None:
            return None, None
        mean, a, b, shift = wave
        lowest = math.inf
        ahead = 0.0
        eta = None
        while ahead <= within_s:
            turn = 2 * math.pi * ahead / M2_S
            depth = mean + a * math.cos(turn) + b * math.sin(turn) + shift
            lowest = min(lowest, depth)
            if eta is None and ahead > 0 and depth < limit_m:
                eta = ahead
            ahead += LOOK_STEP_S
        return eta, lowest

    def remember(self) -> bytes | None:
        if not self._times:
            return None
        every = max(1, len(self._times) // 120)
        kept = _Kept(self._times[::every], [round(d, 2) for d in self._depths[::every]])
        return msgspec.json.encode(kept)

    def recall(self, state: bytes, now_s: float) -> None:
        try:
            kept = msgspec.json.decode(state, type=_Kept)
        except msgspec.DecodeError:
            return
        pairs = [
            (t, d)
            for t, d in zip(kept.times, kept.depths, strict=False)
            if 0 <= now_s - t <= KEEP_S
        ]
        self._times = [t for t, _ in pairs]
        self._depths = [d for _, d in pairs]

    def _wave(self, now_s: float) -> tuple[float, float, float, float] | None:
        """Mean, cosine and sine parts with time zero now, and the offset of the last minutes."""
        times, depths = self._times, self._depths
        if len(times) < 20 or times[-1] - times[0] < NEEDED_S or now_s - times[-1] > 1800:
            return None
        n = len(times)
        middle = sum(depths) / n
        s = [[0.0] * 3 for _ in range(3)]
        r = [0.0] * 3
        for t, d in zip(times, depths, strict=True):
            turn = 2 * math.pi * (t - now_s) / M2_S
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
        model = [
            level
            + a * math.cos(2 * math.pi * (t - now_s) / M2_S)
            + b * math.sin(2 * math.pi * (t - now_s) / M2_S)
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
        return middle + level, a, b, shift


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
