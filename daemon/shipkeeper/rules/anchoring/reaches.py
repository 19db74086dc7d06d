"""How far the bow can lie from the anchor now, and how far it usually does, by rode length.

The upper reach is for the strongest pull the wind of the last minutes can make, the usual one
for its mean. Without wind the upper reach is that of a gale: nothing else is safe. Whatever is
not known (depth, heading, rode) is taken so that the reach comes out rather too long.

Mooring and berth have no catenary: the reach is what was given, or a default, at any wind.
"""

from math import hypot

from .rode import (
    MIXED_WEIGHT_SHARE,
    chain_weight_n_per_m,
    compliance_m_per_n,
    lifted_m,
    reach_m,
    taut_reach_m,
    usual_chain_m,
)
from .setting import AnchorSetting
from .windage import PullGauge

FRICTION = 0.8  # of chain on the bottom; 0.6 to 1.0 in mooring practice, from memory
TAUT_FROM = 0.25
TAUT_OVER = 0.4
RODE_UNKNOWN_M = 40.0
DEPTH_UNKNOWN_M = 3.0
MOORING_M = 10.0  # pennant and the swing of the ground chain: our choice
BERTH_M = 2.5  # give of the lines and surge: our choice
SOUNDING_OLD_S = 600.0
_NO_WIND_SHORT_M = 3.0


class Reaches:
    """Reckons anew at most each five seconds. `highest`, `usual`: one per scale of the rode."""

    __slots__ = (
        "_depth_m", "_depth_s", "_due_s", "_give", "_lever_m", "_lever_now_m", "_mixed",
        "_scales", "_weight", "height_m", "highest", "missing", "rode_m", "setting", "taut",
        "used", "usual",
    )  # fmt: skip

    def __init__(self, setting: AnchorSetting, scales: tuple[float, ...]) -> None:
        self._scales = scales
        self._depth_m: float | None = None
        self._depth_s = 0.0
        self._lever_now_m = 0.0
        self.taut = 0.0
        self.used: tuple[str, ...] = ()
        self.missing: tuple[str, ...] = ()
        self.take_setting(setting)

    def take_setting(self, setting: AnchorSetting) -> None:
        """A new length of rode or depth; what was sounded is kept."""
        self.setting = setting
        self._due_s = -1e18
        self._mixed = setting.rode_kind == "mixed"
        size = setting.chain_size_m or usual_chain_m(setting.length_m)
        # Mixed: the weight is for the usual reach only; the upper one is the taut triangle.
        self._weight = chain_weight_n_per_m(size) * (MIXED_WEIGHT_SHARE if self._mixed else 1.0)
        self._give = compliance_m_per_n(setting)
        aft = setting.antenna_aft_m
        self._lever_m = hypot(
            aft if aft is not None else 0.8 * setting.length_m, setting.antenna_starboard_m
        )
        if setting.rode_m is not None:
            self.rode_m = setting.rode_m
        elif setting.kind == "moored":
            self.rode_m = MOORING_M
        elif setting.kind == "berthed":
            self.rode_m = BERTH_M + 0.3 * setting.rise_m
        else:
            self.rode_m = RODE_UNKNOWN_M
        depth = setting.depth_m if setting.depth_m is not None else DEPTH_UNKNOWN_M
        self.height_m = setting.bow_height_m + depth
        self.highest = self._by_scale(3000.0, True)
        self.usual = self.highest

    def sound(self, t_s: float, depth_m: float) -> None:
        """A sounding, surface to bottom; single wild ones hardly count."""
        last = self._depth_m
        if last is None or t_s - self._depth_s > SOUNDING_OLD_S:
            self._depth_m = depth_m
        else:
            step = depth_m - last
            self._depth_m = last + 0.05 * min(max(step, -3.0), 3.0)
        self._depth_s = t_s

    def reckon(self, t_s: float, pull: PullGauge, heading: bool, doppler: bool) -> None:
        """Reaches for the pull and depth of now."""
        if t_s < self._due_s:
            return
        self._due_s = t_s + 5.0
        setting = self.setting
        wind = pull.known(t_s)
        sounded = self._depth_m is not None and t_s - self._depth_s < SOUNDING_OLD_S
        have = (("speed", doppler), ("heading", heading), ("wind", wind), ("depth", sounded))
        self.used = ("position", *[name for name, there in have if there])
        self.missing = tuple([name for name, there in have if not there])
        if sounded and self._depth_m is not None:
            self.height_m = setting.bow_height_m + self._depth_m
        self._lever_now_m = 0.0 if heading else self._lever_m
        usual_n = pull.usual_pull_n() if wind else 0.0
        self.highest = self._by_scale(pull.highest_pull_n(t_s), True)
        self.usual = self._by_scale(usual_n, False)
        self.taut = 0.0
        if usual_n > 0.0 and setting.kind == "anchored":
            lying = max(0.0, self.rode_m - lifted_m(usual_n, self._weight, self.height_m))
            needed = FRICTION * self._weight * lying + 60.0
            self.taut = min(1.0, max(0.0, (usual_n / needed - TAUT_FROM) / TAUT_OVER))

    def stretched_m(self, at: int) -> float:
        """From here on outward the rode of that scale is stretched: the usual reach; where no
        wind tells it, little less than the upper one."""
        if "wind" in self.missing:
            return self.highest[at] - _NO_WIND_SHORT_M
        return self.usual[at]

    def usual_at(self, pull_n: float) -> tuple[float, ...]:
        """Usual reaches at another pull than that of the wind."""
        return self._by_scale(pull_n, False)

    def taut_m(self) -> float:
        """Bow from anchor with the rode as entered a straight line, no stretch."""
        if self.setting.kind != "anchored":
            return self.rode_m
        return taut_reach_m(self.rode_m, self.height_m)

    def _by_scale(self, pull_n: float, highest: bool) -> tuple[float, ...]:
        height = self.height_m
        lever = self._lever_now_m if highest else 0.85 * self._lever_now_m
        give = self._give * pull_n if highest else 0.0
        reaches: list[float] = []
        for scale in self._scales:
            length = scale * self.rode_m
            if self.setting.kind != "anchored":
                reach = length
            elif highest and self._mixed:
                reach = taut_reach_m(length, height) + give
            else:
                reach = reach_m(pull_n, length, self._weight, height) + give
            reaches.append(reach + lever)
        return tuple(reaches)
