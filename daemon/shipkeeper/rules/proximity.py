"""Proximity: a ship that will come too close, by CPA and TCPA, or that is too close now.

Consequence: collision.
Response: look out now; COLREG decides who does what; at anchor, light and sound, call her.
Time to respond: the TCPA told.

Radar and AIS targets share the limits. At anchor, moored or berthed own velocity is zero. One
alert a ship. The text carries how far off the forecast may be: a CPA is never finer than its
data. The reckoning itself is in threat.py.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING

import msgspec

from ..picture.outline import target_outline
from ..picture.plot import Placed
from ..picture.targets import DROP_AFTER_S, STILL, Target
from ..words.alert import Subject
from ..words.geo import LatLon, east_north
from ..words.orders import Vessel
from ..words.verdict import Judgement, Verdict
from .proximity_orders import ProximityOrders
from .rule import Memoryless
from .sight import (
    Sight,
    as_last_heard,
    deaf,
    look,
    placed,
    silent,
    speaks_as,
    spoken_key,
    unplaced,
)
from .threat import Threat, forecast, surely_clear, threat_of

if TYPE_CHECKING:
    from ..picture.picture import Picture

__all__ = ["Proximity", "ProximityOrders"]

AT_ONCE_S = 60.0  # with less time than this no confirming delay is due
SWING_M = 50.0  # own antenna moves so far before ships that stay clear are looked at anew; ours


class Proximity(Memoryless):
    """See the module's first lines."""

    prompt = False

    def __init__(self, orders: ProximityOrders, vessel: Vessel) -> None:
        self.orders = orders
        self.vessel = vessel
        self._quiet: set[str] = set()  # half of a ship that split in two: not a new one
        self._judged_s: float | None = None
        self._utc_s: float | None = None  # of the last judgement
        self._held: set[str] = set()
        # Ships that stay clear until their next report, while own ship lies about there: by
        # serial, how many reports there were and what hull they gave.
        self._clear: dict[int, tuple[int, object]] = {}
        self._clear_of: LatLon | None = None

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        sight = look(picture, self.vessel, now_s, self.orders.measure)
        self._utc_s = sight.utc_s
        if sight.place is None:
            return Judgement(missing=("position",))
        if sight.motion is None and self.orders.range_m is None:
            return Judgement(missing=("course",))
        missing = deaf(picture, now_s)
        if missing:
            return Judgement(missing=missing)
        resting = self.orders.range_m is None and sight.motion == (0.0, 0.0)
        self._lies_still(sight.place, resting)
        verdicts: list[Verdict] = []
        said, held = set(), set()
        for row in self._near(picture, sight, open_keys, resting):
            speaks = speaks_as(row[0], open_keys)
            said.add(speaks.key)
            verdict = self._of(picture, row, speaks, sight, speaks.key in open_keys)
            if verdict is not None:
                verdicts.append(verdict)
                if verdict.holds:
                    held.add(row[0].key)
        for key in open_keys:
            if key not in said:
                verdict = self._of_open(picture, key, sight)
                if verdict is not None:
                    verdicts.append(verdict)
        self._held, self._judged_s = held, now_s
        if self._quiet:
            self._quiet.intersection_update(picture.targets.by_key)
        return Judgement(tuple(verdicts), unplaced(picture, self.orders.ignore.kinds, now_s))

    def watch_set(self, picture: Picture, now_s: float) -> None:
        self._quiet.clear()

    def filters_in_force(self) -> list[str]:
        told = [f"leaves out {text}" for text in self.orders.ignore.told(self._utc_s)]
        if not self.orders.lost_after:
            told.append("lost-target function off")
        return told

    def left_out(self, target: Target, away_m: float | None, now_s: float, utc_s: float) -> str:
        """Why this rule would not raise the target, '' when it would."""
        return self.orders.ignore.why_not(target, away_m, now_s, utc_s)

    # -- one target ------------------------------------------------------------------------

    def _near(
        self, picture: Picture, sight: Sight, open_keys: AbstractSet[str], resting: bool
    ) -> Iterable[Placed]:
        """Targets that can matter; of a pair only the AIS target."""
        orders, hulls = self.orders, picture.targets.widest_m
        assert sight.place is not None
        if orders.range_m is not None:
            far = orders.range_m + orders.band_m + hulls + sight.hull.reach_m
        else:
            far = orders.within_m + hulls
        before, self._clear = self._clear, {}
        for row in picture.targets.plot(sight.now_s).near(sight.place, far):
            target = row[0]
            if target.kind == "radar" and target.partner is not None:
                continue
            if resting and spoken_key(target, open_keys) not in open_keys:
                if target.motion() == STILL:
                    continue  # neither moves: nothing to forecast
                known = before.get(target.serial)
                if known is None or known[0] != target.updates or known[1] is not target.hull:
                    known = self._stays_clear(row, sight)
                if known is not None:
                    self._clear[target.serial] = known
                    continue
            yield row

    def _lies_still(self, here: LatLon, resting: bool) -> None:
        """Forget who stays clear once own ship is not where that was found."""
        there = self._clear_of
        if there is None or not resting or math.hypot(*east_north(there, here)) > SWING_M:
            self._clear.clear()
            self._clear_of = here

    def _stays_clear(self, row: Placed, sight: Sight) -> tuple[int, object] | None:
        target = row[0]
        place = sight.plane(row[1], row[2])
        assert place is not None  # judge() has asked for it
        # Found within a swing of `_clear_of`, so she may move two from here, and turn.
        far_m = 2.0 * SWING_M + sight.hull.reach_m
        if not surely_clear(self.orders, target, place, sight, own_moves_m=far_m):
            return None
        self._quiet.discard(target.key)
        return target.updates, target_outline(target)

    def _of(
        self, picture: Picture, row: Placed, speaks: Subject, sight: Sight, is_open: bool
    ) -> Verdict | None:
        """The verdict on one target; None when nothing is due or nothing can be said."""
        target = row[0]
        place = sight.plane(row[1], row[2])
        assert place is not None  # judge() has asked for it
        if not is_open and surely_clear(self.orders, target, place, sight):
            self._quiet.discard(target.key)
            return None
        threat = threat_of(self.orders, target, place, sight)
        if not threat.holds:
            self._quiet.discard(target.key)
        if not is_open and (not threat.holds or self._left_out_now(target, place, sight)):
            return None
        if self._is_split_half(target, threat):
            threat = msgspec.structs.replace(threat, holds=False, gone=True)
            return self._verdict(row, speaks, sight, place, threat) if is_open else None
        lost = silent(picture, target, self.orders.lost_after, sight.now_s)
        if lost is None:
            return None  # we are deaf
        verdict = self._verdict(row, speaks, sight, place, threat)
        low = self.orders.priority == "caution" or not is_open
        # Where she is now nobody knows: the last word stands until she is heard again.
        if not lost:
            return verdict
        return as_last_heard(verdict, target, sight, self.orders.measure, low=low)

    def _left_out_now(self, target: Target, place: tuple[float, float], sight: Sight) -> bool:
        if target.courting is not None and target.courting in self._held:
            return True  # known here already, by the radar's name
        away = math.hypot(*place)
        return bool(self.orders.ignore.why_not(target, away, sight.now_s, sight.utc_s))

    def _is_split_half(self, target: Target, threat: Threat) -> bool:
        """IMO MSC.192(79) 5.30.3: when echo and report draw apart there is no alarm for it."""
        if not threat.holds:
            return False
        split = target.split_s
        if (
            split is not None
            and target.kind == "radar"
            and (self._judged_s is None or split > self._judged_s)
        ):
            self._quiet.add(target.key)
        return target.key in self._quiet

    def _of_open(self, picture: Picture, key: str, sight: Sight) -> Verdict | None:
        """An alert stands for one that is out of sight of this rule. None: unknown."""
        target = picture.targets.get(key)
        if target is None:
            if sight.now_s - picture.started_s <= DROP_AFTER_S:
                return None  # after a restart it may be heard again
            return Verdict(subject=Subject(key, "ais", key), holds=False, gone=True)
        row = placed(target, sight.now_s)
        place = None if row is None else sight.plane(row[1], row[2])
        if row is None or place is None:
            return None
        if silent(picture, target, self.orders.lost_after, sight.now_s) is not False:
            return None
        return self._verdict(row, target.subject, sight, place, Threat(False, True))

    def _verdict(
        self,
        row: Placed,
        speaks: Subject,
        sight: Sight,
        place: tuple[float, float],
        threat: Threat,
    ) -> Verdict:
        target, lat, lon = row
        facts = sight.facts(target, lat, lon, self.orders.measure)
        facts |= forecast(self.orders, target, sight, place, threat)
        if facts["cpa_m"] is None:
            facts["cpa_m"] = facts["range_m"]
        by_range = self.orders.range_m is not None
        soon = not by_range and threat.tcpa_s is not None and threat.tcpa_s <= AT_ONCE_S
        return Verdict(
            subject=speaks,
            holds=threat.holds,
            gone=threat.gone,
            value=facts["range_m"] if by_range else facts["cpa_m"],
            limit=self.orders.limit_m,
            unit="m",
            lat=round(lat, 6),
            lon=round(lon, 6),
            data_at_s=target.placed_s,
            at_once=threat.holds and soon,
            facts=facts,
        )
