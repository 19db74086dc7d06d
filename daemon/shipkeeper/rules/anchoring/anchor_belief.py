"""Where the anchor may be, supposing that it holds: a grid of places times lengths of rode.

Each entry has an energy, minus twice the logarithm of its odds against the best entry. The
prior comes from the mark. Blocks of half a minute add evidence: a boat cannot lie farther off
than her rode lets her, lies about that far off when the wind stretches it, and has the anchor
ahead of her then. Evidence counts little (one independent look in five minutes, since errors
are coloured) and is capped, so that one lie cannot rule a place out.

Two sorts of evidence are kept apart. That she lay at a place within reach is hard: nothing but a
drag or a wrong fix contradicts it. That she usually lies farther out, or square to her sway,
is soft: a stream or a calm can make it wrong all night long, so all of it together can count
against a place for so much and no more. And nobody marks an anchor very far wrong: beyond the
edge of the prior there are no places at all.

What must never happen here: learning a drag as a new place. The caller holds the newest
minutes back and counts blocks in which the boat lies where she should not for a fraction.
"""

from math import hypot, sqrt
from operator import itemgetter

from .records import Block
from .setting import AnchorSetting

SIDE = 33
STEP_M = 2.5
_HALF = SIDE // 2
RODE_SCALES = (0.95, 1.0, 1.05, 1.10, 1.15)
RODE_SIGMA = 0.055
MARK_SIGMA_M = 9.0
MARK_EDGE_M = 22.0
MARK_EDGE_SCALE_M = 2.0
INDEPENDENT_S = 120.0
OVER_SCALE_M = 2.2
OVER_CAP = 30.0
UNDER_SCALE_M = 3.0
UNDER_CAP = 12.0
AHEAD_SCALE = 0.25
AHEAD_CAP = 12.0
AHEAD_SHARE = 0.5
LINE_CAP = 12.0
LINE_SHARE = 1.0
SOFT_MOST = 85.0  # of soft evidence in all, when the wind is known
SOFT_MOST_BLIND = 20.0  # and when the pull is only guessed from how she sails about
BEYOND_EDGE_M = 9.0
_RESCAN = 16
_EXTRA_SIDE = 13
_EXTRA_STEP_M = 3.0
_EXTRA_SIGMA_M = 8.0
_LIVE = 150.0
_TELLING = 110.0  # entries that a statistic of some 15 m can still lean on


class AnchorBelief:
    """The grid about one mark. `mean_x_m`, `mean_y_m`, `sigma_m`: the estimated anchor."""

    __slots__ = (
        "_energy",
        "_learnt",
        "_live",
        "_places",
        "_soft",
        "_spread",
        "_step_m",
        "candidates",
        "extra",
        "mean_x_m",
        "mean_y_m",
        "middle",
        "rode_scale",
        "scales",
        "sigma_m",
        "soft_most",
    )

    def __init__(
        self,
        *,
        mark_sigma_m: float,
        edge_m: float,
        step_m: float = STEP_M,
        scales: tuple[float, ...] = RODE_SCALES,
        rode_sigma: float = RODE_SIGMA,
    ) -> None:
        """A grid of cells `step_m` wide about the mark; the prior is normal, and steep from
        `edge_m` on: nobody marks an anchor that far wrong."""
        self.scales = scales
        self.middle = min(range(len(scales)), key=lambda k: abs(scales[k] - 1.0))
        self._spread = [((s - 1.0) / rode_sigma) ** 2 for s in scales]
        self._step_m = step_m
        self._energy: list[float] = []  # prior and hard evidence
        self._soft: list[float] = []
        self.soft_most = SOFT_MOST
        self._places: list[tuple[float, float, int]] = []
        for i in range(SIDE * SIDE):
            x, y = (i % SIDE - _HALF) * step_m, (i // SIDE - _HALF) * step_m
            away = hypot(x, y)
            if away > edge_m + BEYOND_EDGE_M * mark_sigma_m / MARK_SIGMA_M:
                continue
            energy = (away / mark_sigma_m) ** 2
            if away > edge_m:
                energy += ((away - edge_m) / MARK_EDGE_SCALE_M) ** 2
            self._add(x, y, energy)
        self.extra: tuple[float, float] | None = None
        self._learnt = 0
        self._live = self._places
        self.candidates: list[tuple[float, float, float, int]] = []
        self.mean_x_m = self.mean_y_m = 0.0
        self.sigma_m = mark_sigma_m
        self.rode_scale = 1.0
        self._take_stock(True)

    def _add(self, x_m: float, y_m: float, energy: float) -> None:
        self._places.append((x_m, y_m, len(self._energy)))
        self._energy.extend([energy + s for s in self._spread])
        self._soft.extend([0.0] * len(self._spread))

    def allow(self, x_m: float, y_m: float, energy: float) -> None:
        """Let the anchor be also about this place, with this much against it beforehand."""
        if self.extra is not None:
            return
        self.extra = (x_m, y_m)
        for i in range(_EXTRA_SIDE * _EXTRA_SIDE):
            dx = (i % _EXTRA_SIDE - _EXTRA_SIDE // 2) * _EXTRA_STEP_M
            dy = (i // _EXTRA_SIDE - _EXTRA_SIDE // 2) * _EXTRA_STEP_M
            self._add(x_m + dx, y_m + dy, energy + (dx * dx + dy * dy) / _EXTRA_SIGMA_M**2)
        self._take_stock(True)

    def learn(self, block: Block, share: float) -> None:
        """Add one block of evidence; `share` 0..1 is how far it is to be believed."""
        weight = share * block.span_s / INDEPENDENT_S
        if weight <= 0.0:
            return
        many = len(self.scales)
        cells, softs, highest, usual = self._energy, self._soft, block.highest, block.usual
        bow_x, bow_y = block.x_m, block.y_m
        taut = weight * block.taut
        pull_x, pull_y = block.ahead if block.ahead is not None else (0.0, 0.0)
        aimed = block.ahead is not None and taut > 0.0
        per_over = 1.0 / (OVER_SCALE_M * block.scale) ** 2
        per_under = 1.0 / (UNDER_SCALE_M * block.scale) ** 2
        per_aside = 1.0 / AHEAD_SCALE**2
        line_x, line_y = block.line if block.line is not None else (0.0, 0.0)
        lined = LINE_SHARE * weight if block.line is not None else 0.0
        through_x, through_y = block.line_x_m, block.line_y_m
        per_line = 1.0 / (block.line_doubt * block.line_doubt) if lined > 0.0 else 0.0
        for x, y, base in self._live:
            dx, dy = x - bow_x, y - bow_y
            r = sqrt(dx * dx + dy * dy)
            common = 0.0
            if lined > 0.0:
                lx, ly = x - through_x, y - through_y
                far = lx * lx + ly * ly
                if far > 25.0:
                    cross = lx * line_y - ly * line_x
                    common = lined * min(cross * cross / far * per_line, LINE_CAP)
            if aimed and r > 1.0:
                miss = AHEAD_CAP
                if dx * pull_x + dy * pull_y > 0.0:
                    sine = (dx * pull_y - dy * pull_x) / r
                    miss = min(sine * sine * per_aside, AHEAD_CAP)
                common += AHEAD_SHARE * taut * miss
            for k in range(many):
                over = r - highest[k]
                more = common
                if over > 0.0:
                    cells[base + k] += weight * min(over * over * per_over, OVER_CAP)
                elif taut > 0.0:
                    under = usual[k] - r
                    if under > 0.0:
                        more += taut * min(under * under * per_under, UNDER_CAP)
                if more > 0.0:
                    softs[base + k] += more
        self._learnt += 1
        self._take_stock(self._learnt % _RESCAN == 0)

    def _take_stock(self, everywhere: bool) -> None:
        """Best entry to zero; the live cells, the candidates in order, mean and spread.

        A cell that is out of the question is left alone, except every so often: should the best
        entries sink as well, it comes back with what it had.
        """
        many = len(self.scales)
        most, softs = self.soft_most, self._soft
        if everywhere:
            places = self._places
            low = min(softs)
            if low > 0.0:
                softs = self._soft = [s - low for s in softs]
        else:
            places = self._live
        cells = {
            base: [
                h + most * s / (most + s)
                for h, s in zip(
                    self._energy[base : base + many], softs[base : base + many], strict=True
                )
            ]
            for _, _, base in places
        }
        least = min([min(row) for row in cells.values()])
        live: list[tuple[float, float, int]] = []
        candidates: list[tuple[float, float, float, int]] = []
        for spot in places:
            x, y, base = spot
            row = cells[base]
            lowest = 1e9  # of the longer rodes, which reach as far and farther
            for k in range(many - 1, -1, -1):
                energy = row[k] - least
                if energy < lowest:
                    lowest = energy
                    if energy < _TELLING:
                        candidates.append((energy, x, y, k))
            if lowest < _LIVE:
                live.append(spot)
        if everywhere and least > 0.0:
            self._energy = [e - least for e in self._energy]
        candidates.sort(key=itemgetter(0))
        self._live = live
        self.candidates = candidates
        self._reckon_mean()

    def _reckon_mean(self) -> None:
        total = sx = sy = sxx = sk = 0.0
        for energy, x, y, k in self.candidates:
            if energy > 24.0:
                break
            odds = _ODDS[int(energy * 4.0)]
            total += odds
            sx += odds * x
            sy += odds * y
            sxx += odds * (x * x + y * y)
            sk += odds * self.scales[k]
        self.mean_x_m = mx = sx / total
        self.mean_y_m = my = sy / total
        spread = sxx / total - mx * mx - my * my
        self.sigma_m = sqrt(max(0.5 * spread, self._step_m * self._step_m / 12.0))
        self.rode_scale = sk / total

    def snapshot(self) -> bytes:
        """Hard, then soft energies in one byte each, a square root scale: some kilobytes."""
        least = min(self._energy)
        return bytes(
            min(255, round(sqrt(max(e, 0.0)) * 12.0))
            for e in [*[e - least for e in self._energy], *self._soft]
        )

    def restore(self, kept: bytes) -> bool:
        """False, and nothing changed, when the snapshot is of another grid."""
        size = len(self._energy)
        if len(kept) != 2 * size:
            return False
        values = [(b / 12.0) ** 2 for b in kept]
        self._energy, self._soft = values[:size], values[size:]
        self._take_stock(True)
        return True


def belief_for(setting: AnchorSetting) -> AnchorBelief:
    """The prior that goes with what was set: anchor, mooring or berth."""
    if setting.kind == "berthed":
        return AnchorBelief(mark_sigma_m=2.0, edge_m=4.0, step_m=0.5, scales=(1.0, 1.3))
    if setting.kind == "moored":
        reach = setting.rode_m if setting.rode_m is not None else 10.0
        edge = min(reach + 3.0, 22.0)
        return AnchorBelief(
            mark_sigma_m=0.5 * edge, edge_m=edge, step_m=edge / 12.0, scales=(0.9, 1.0, 1.1, 1.25)
        )
    if setting.rode_m is None:
        return AnchorBelief(
            mark_sigma_m=MARK_SIGMA_M, edge_m=MARK_EDGE_M, rode_sigma=0.25,
            scales=(0.6, 0.8, 1.0, 1.25, 1.5),
        )  # fmt: skip
    sigma = setting.marked_m if setting.marked_m is not None else MARK_SIGMA_M
    return AnchorBelief(mark_sigma_m=sigma, edge_m=MARK_EDGE_M * sigma / MARK_SIGMA_M)


_ODDS = tuple(2.718281828459045 ** (-0.5 * (i + 0.5) / 4.0) for i in range(97))
