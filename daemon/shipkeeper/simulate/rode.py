"""The rode: how far the bow can lie from the anchor at a given pull, and the pull at a distance.

Static catenary of one or two sections (chain next to the anchor, rope above) on a flat bottom.
For a horizontal pull H a section of weight w a metre between vertical loads V1 (lower end) and V2
rises (sqrt(H^2 + V2^2) - sqrt(H^2 + V1^2)) / w and reaches (H / w)(asinh(V2/H) - asinh(V1/H)):
the common catenary (NAVFAC DM-26.5, 1985; Faltinsen, Sea Loads, 1990; from memory). The vertical
load at the bow is found so that the sections rise by the height of the roller. Stretch is added
as H times the compliance.

Weights and stiffness (from memory, common practice): chain in water 0.19 d^2 N/m with d in mm;
nylon some 0.0006 d^2 N/m in water, EA = 480 d^2 N.
"""

from bisect import bisect_right
from math import asinh, hypot

from shipkeeper.simulate.plan import Rode

_PULLS_N = tuple(0.5 * 1.175**i for i in range(75))  # 0.5 N to 76 kN
_HEIGHT_STEP_M = 0.02
_CHAIN_EA_N_PER_MM2 = 8.0e4


def chain_weight_n_per_m(chain_mm: float) -> float:
    """Weight in water of short-link chain."""
    return 0.19 * chain_mm**2


def compliance_m_per_n(rode: Rode) -> float:
    """How much farther the bow lies for each newton: snubber, chain and rope together."""
    rope_m = rode.length_m - rode.chain_m
    chain = rode.chain_m / (_CHAIN_EA_N_PER_MM2 * rode.chain_mm**2)
    return rode.snubber_m_per_n + chain + rope_m / (480.0 * rode.rope_mm**2)


def hang(rode: Rode, height_m: float, pull_n: float) -> tuple[float, float]:
    """(horizontal distance anchor to bow without stretch, length lying on the bottom), metres."""
    rope_m = rode.length_m - rode.chain_m
    sections = ((0.0006 * rode.rope_mm**2, rope_m), (chain_weight_n_per_m(rode.chain_mm),
                rode.chain_m))  # fmt: skip
    low, high = 0.0, sum(w * length for w, length in sections)
    while _shape(sections, pull_n, high)[0] < height_m and high < 1e7:
        high *= 2.0
    for _ in range(60):
        middle = (low + high) / 2
        if _shape(sections, pull_n, middle)[0] < height_m:
            low = middle
        else:
            high = middle
        if high - low < 1e-6 * high:
            break
    _, reach, lying = _shape(sections, pull_n, (low + high) / 2)
    return reach, lying


def _shape(
    sections: tuple[tuple[float, float], ...], pull_n: float, load_n: float
) -> tuple[float, float, float]:
    """(rise, reach, length lying) for a vertical load at the bow, from the bow downwards."""
    rise = reach = lying = 0.0
    upper = load_n
    for weight, length in sections:
        if length <= 0.0:
            continue
        lifted = min(length, upper / weight)
        lower = max(0.0, upper - weight * lifted)
        rise += (hypot(pull_n, upper) - hypot(pull_n, lower)) / weight
        reach += pull_n / weight * (asinh(upper / pull_n) - asinh(lower / pull_n))
        lying += length - lifted
        upper = lower
    return rise, reach + lying, lying


class RodeTable:
    """Pull and lying length by distance, for a height that changes slowly with the tide."""

    __slots__ = ("_first", "_height_m", "_lying", "_reach", "_rows", "_step_m", "chain_m",
                 "length_m", "weight_n_per_m")  # fmt: skip

    def __init__(self, rode: Rode, lowest_m: float, highest_m: float) -> None:
        """Heights of the roller above the bottom between which the table must hold."""
        self.length_m = rode.length_m
        self.chain_m = rode.chain_m
        self.weight_n_per_m = chain_weight_n_per_m(rode.chain_mm)
        parts = max(1, min(5, round((highest_m - lowest_m) / 0.6)))
        self._first = lowest_m
        self._step_m = max(0.05, (highest_m - lowest_m) / parts)
        give = compliance_m_per_n(rode)
        self._rows = []
        for i in range(parts + 1):
            rows = [hang(rode, lowest_m + i * self._step_m, pull) for pull in _PULLS_N]
            reach = [x + give * p for (x, _), p in zip(rows, _PULLS_N, strict=True)]
            self._rows.append((reach, [lying for _, lying in rows]))
        self._height_m = -1.0
        self.at_height(lowest_m)

    def at_height(self, height_m: float) -> None:
        """From now on the roller is this far above the bottom."""
        if abs(height_m - self._height_m) < _HEIGHT_STEP_M:
            return
        self._height_m = height_m
        place = (height_m - self._first) / self._step_m
        at = min(max(int(place), 0), len(self._rows) - 2)
        part = min(max(place - at, 0.0), 1.0)
        (reach0, lying0), (reach1, lying1) = self._rows[at], self._rows[at + 1]
        self._reach = [a + part * (b - a) for a, b in zip(reach0, reach1, strict=True)]
        self._lying = [a + part * (b - a) for a, b in zip(lying0, lying1, strict=True)]

    def pull_n(self, distance_m: float) -> float:
        """Horizontal pull with the bow at this distance along the rode; 0 when it is slack."""
        reach = self._reach
        at = bisect_right(reach, distance_m)
        if at == 0:
            return 0.0
        if at >= len(reach):
            at = len(reach) - 1
        x0 = reach[at - 1]
        p0 = _PULLS_N[at - 1]
        return p0 + (distance_m - x0) / (reach[at] - x0) * (_PULLS_N[at] - p0)

    def lying_m(self, distance_m: float) -> float:
        """Length of rode on the bottom with the bow at this distance."""
        reach = self._reach
        at = bisect_right(reach, distance_m)
        if at == 0:
            return self._lying[0]
        return self._lying[min(at, len(reach) - 1)]

    def reach_m(self, pull_n: float) -> float:
        """Distance from anchor to bow, stretch included, at a steady pull."""
        at = min(max(bisect_right(_PULLS_N, pull_n), 1), len(_PULLS_N) - 1)
        p0, p1 = _PULLS_N[at - 1], _PULLS_N[at]
        part = (pull_n - p0) / (p1 - p0)
        return self._reach[at - 1] + part * (self._reach[at] - self._reach[at - 1])
