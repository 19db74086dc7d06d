"""Association: which AIS report and which radar echo are one ship.

Position and motion decide (IMO MSC.192(79) 5.30). Two that lie close and move alike for
`JOIN_S` are joined; two that were joined stay so until they have been well apart for `SPLIT_S`:
hysteresis both ways, or an echo on the edge would be one ship and two by turns. The AIS target
speaks for the pair, and follows the echo while her AIS is silent (tracks.py). A split is silent;
rules see its stamp and do not raise for it.
"""

from __future__ import annotations

import math

from ..words.geo import LatLon, east_north
from .outline import target_outline
from .plot import Plot
from .targets import Target

JOIN_S = 5.0
SPLIT_S = 15.0
SPLIT_TIMES = 2.0  # the gates are this much wider for leaving than for coming together
GATE_M = 75.0  # radar 50 m or 1 % of range and 2 degrees (MSC.192(79) 5.25.4), and a GNSS fix
GATE_SHARE = 0.03  # of the range
GATE_MS = 2.0  # about 4 kn of difference in velocity


class Association:
    """Pairs in the making and pairs in doubt; the pairs themselves stand in the targets."""

    def __init__(self) -> None:
        self._alike: dict[tuple[str, str], float] = {}  # (radar, ais) -> since when
        self._apart: dict[str, float] = {}  # radar key -> since when out of the wide gate

    def update(
        self,
        by_key: dict[str, Target],
        radar: dict[str, Target],
        plot: Plot,
        own_place: LatLon | None,
        now_s: float,
    ) -> None:
        """Once a second. radar: those of `by_key` that a radar tracks."""
        echoes = radar.values()
        if not echoes and not self._alike:
            return
        taken: set[str | None] = {t.partner for t in echoes if t.partner is not None}
        alike: dict[tuple[str, str], float] = {}
        for echo in echoes:
            place = echo.place_at(now_s)
            if place is None:
                continue
            range_m = math.hypot(*east_north(own_place, place)) if own_place is not None else 0.0
            if echo.partner is not None:
                self._hold(by_key, echo, place, range_m, now_s)
                continue
            if echo.lost or echo.acquiring or echo.reference:
                continue
            best = _nearest(plot, echo, place, range_m, taken)
            if best is None:
                continue
            pair = (echo.key, best.key)
            since = alike[pair] = self._alike.get(pair, now_s)
            best.courting = echo.key
            if now_s - since >= JOIN_S:
                taken.add(best.key)
                echo.partner, best.partner = best.key, echo.key
                echo.joined_s = best.joined_s = now_s
                del alike[pair]
        for pair in self._alike:
            ship = by_key.get(pair[1])
            if ship is not None and pair not in alike:
                ship.courting = None
        self._alike = alike

    def forget(self, by_key: dict[str, Target], gone: Target) -> None:
        """A target was dropped: its partner is alone, without a word."""
        self._apart.pop(gone.key, None)
        partner = by_key.get(gone.partner) if gone.partner is not None else None
        if partner is not None:
            partner.partner = None

    def _hold(
        self,
        by_key: dict[str, Target],
        echo: Target,
        place: LatLon,
        range_m: float,
        now_s: float,
    ) -> None:
        """Keep a pair together until it has been apart for long enough."""
        ship = by_key.get(echo.partner or "")
        where = ship.place_at(now_s) if ship is not None else None
        if ship is None or where is None:
            echo.partner = None
            return
        if echo.lost or ship.lost:
            # The one that is still seen must stand for itself, and may pair anew.
            self._split(echo, ship, now_s)
            return
        if _alike(echo, place, ship, where, range_m, SPLIT_TIMES) is not None:
            self._apart.pop(echo.key, None)
            return
        since = self._apart.setdefault(echo.key, now_s)
        if now_s - since >= SPLIT_S:
            self._split(echo, ship, now_s)

    def _split(self, echo: Target, ship: Target, now_s: float) -> None:
        self._apart.pop(echo.key, None)
        echo.partner = ship.partner = None
        echo.split_s = ship.split_s = now_s


def _nearest(
    plot: Plot, echo: Target, place: LatLon, range_m: float, taken: set[str | None]
) -> Target | None:
    """The AIS target that is most like the echo, within the gates."""
    best, least = None, math.inf
    for ship, lat, lon in plot.near(place, GATE_M + GATE_SHARE * range_m + 400.0):
        if ship.kind != "ais" or ship.key in taken or ship.lost or ship.station in ("base", "aid"):
            continue
        how = _alike(echo, place, ship, LatLon(lat, lon), range_m, 1.0)
        if how is not None and how < least:
            best, least = ship, how
    return best


def _alike(
    echo: Target, place: LatLon, ship: Target, where: LatLon, range_m: float, wide: float
) -> float | None:
    """How unlike the two are, 0 to 1 within the gates widened by `wide`; None outside."""
    away = math.hypot(*east_north(place, where))
    # An echo is where the hull reflects, not where the antenna stands.
    gate_m = wide * (GATE_M + GATE_SHARE * range_m) + target_outline(ship).reach_m
    ve, vn = echo.motion()
    we, wn = ship.motion()
    differ = math.hypot(ve - we, vn - wn)
    gate_ms = wide * (GATE_MS + 0.1 * (ship.speed_ms or 0.0))
    if away > gate_m or differ > gate_ms:
        return None
    return max(away / gate_m, differ / gate_ms)
