"""Zone: guarded water about the ship, the anchor or a place; who comes in, who leaves.

Consequence: something is near that was not there: a boat dragging down, one anchoring too
close, a thief's tender; or own ship is where she should not be.
Response: look out; find the light or the shape by the bearing told.
Time to respond: a minute or more.

Entering and being seen first inside count alike (IMO MSC.192(79) 5.29.3). Those inside when the
watch is set are neighbours: remembered by identity, not raised until they have been out. A
target that left stays 'left' until it is back inside. One that falls silent inside is raised
as lost (5.29.5). An AIS report and a radar echo of one ship are one subject.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Any

import msgspec

from ..picture.outline import POINT, target_outline
from ..picture.plot import Placed
from ..picture.reporting import is_lost
from ..picture.targets import DROP_AFTER_S, MAKING_WAY_MS, Target
from ..words.alert import OWN_SHIP, Subject
from ..words.geo import LatLon, east_north, plane_bearing
from ..words.orders import Vessel
from ..words.verdict import Judgement, Verdict
from .filters import Ignore
from .sight import Sight, axis_deg, deaf, distance_m, heard_by_living_ear, look
from .zone_members import Members
from .zone_orders import ZoneOrders
from .zone_shapes import Area, Line, Polygon, Ring, Sector

if TYPE_CHECKING:
    from ..picture.picture import Picture

__all__ = ["Zone", "ZoneOrders"]

# A boat at anchor reports every three minutes; one of two such reports may be lost.
LISTEN_S = 360.0
STANDING = ("kind", "class", "identity")  # filters that also hold for one that leaves


class Zone:
    """See the module's first lines."""

    prompt = False

    def __init__(self, orders: ZoneOrders, vessel: Vessel) -> None:
        self.orders = orders
        self.vessel = vessel
        self.off_until_s: float | None = None
        self.members = Members()
        self._polygon = Polygon(orders.polygon) if orders.polygon else None
        self._line = Line(orders.line) if orders.line else None

    # -- the contract ----------------------------------------------------------------------

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        if self.off_until_s is not None and now_s >= self.off_until_s:
            self.off_until_s = None
        sight = look(picture, self.vessel, now_s, self.orders.measure)
        area = self._area(picture, sight)
        if isinstance(area, str):
            return Judgement(missing=(area,))
        if self.orders.subject == "own ship":
            return self._judge_own(picture, area, sight, now_s, open_keys)
        missing = deaf(picture, now_s)
        if missing:
            return Judgement(missing=missing)
        return self._judge_targets(picture, area, sight, now_s, open_keys)

    def watch_set(self, picture: Picture, now_s: float) -> None:
        self.members.clear()
        if self.orders.accept_present:
            self.members.settle = True
            self.members.settle_until_s = max(now_s, picture.started_s + LISTEN_S)
        if self._line is not None:
            self._line.safe = 0

    def remember(self) -> bytes | None:
        return self.members.encode(self.off_until_s, self._line.safe if self._line else 0)

    def recall(self, state: bytes, now_s: float) -> None:
        kept = self.members.decode(state)
        if kept is not None:
            self.off_until_s, safe = kept
            if self._line is not None:
                self._line.safe = safe

    # -- beyond the contract: what commands and tables ask ---------------------------------

    def switch(self, on: bool, until_s: float | None) -> None:
        """Off until a time (nothing new is raised, what stands may clear), or on again."""
        self.off_until_s = None if on else until_s

    def filters_in_force(self) -> list[str]:
        told = [f"leaves out {text}" for text in self.orders.ignore.told()]
        if self.members.neighbours:
            told.append(f"{len(self.members.neighbours)} neighbour(s) not raised")
        if self.off_until_s is not None:
            told.append("switched off for a time")
        if not self.orders.lost_after:
            told.append("lost-target function off")
        return told

    def explain_watch(self, picture: Picture, now_s: float) -> list[str]:
        """What this zone finds as the watch is set."""
        sight = look(picture, self.vessel, now_s, self.orders.measure)
        area = self._area(picture, sight)
        if isinstance(area, str):
            return []
        if self.orders.subject == "own ship":
            return self._explain_own(area, sight)
        if not self.orders.accept_present:
            return []
        names = sorted(row[0].label for row in self._inside(picture, area, now_s).values())
        return [f'zone "{self.orders.name}": neighbours {", ".join(names) or "none"}']

    def contains(self, key: str) -> bool:
        """Whether the target was inside at the last judgement."""
        return key in self.members.inside

    def left_out(self, target: Target, away_m: float | None, now_s: float, utc_s: float) -> str:
        """Why this rule would not raise the target, '' when it would."""
        if target.key in self.members.neighbours:
            return "neighbour"
        return self.orders.ignore.why_not(target, away_m, now_s, utc_s)

    # -- targets ---------------------------------------------------------------------------

    def _judge_targets(
        self,
        picture: Picture,
        area: Area,
        sight: Sight,
        now_s: float,
        open_keys: AbstractSet[str],
    ) -> Judgement:
        inside = self._inside(picture, area, now_s)
        members, verdicts = self.members, []
        self._pair_up(inside)
        for key, row in inside.items():
            if members.came(key, row[0].first_s):
                self._newcomer(row[0], now_s)
        for key in members.gone_out(inside):
            self._went(picture, key, sight, now_s)
        self._see_neighbours(picture, area, now_s)
        said: set[str] = set()
        for row in inside.values():
            speaks = self._speaks_as(row[0], open_keys)
            said.add(speaks.key)
            verdict = self._of_inside(picture, area, row, speaks, sight, now_s, open_keys)
            if verdict is not None:
                verdicts.append(verdict)
        left = self._left_verdicts(picture, sight, now_s)
        said |= {verdict.subject.key for verdict in left}
        verdicts += left
        for key in open_keys:
            if key not in said:
                verdict = self._of_open(picture, area, key, sight, now_s)
                if verdict is not None:
                    verdicts.append(verdict)
        members.settle = False
        members.judged_s = now_s
        return Judgement(_counted(verdicts))

    def _inside(self, picture: Picture, area: Area, now_s: float) -> dict[str, Placed]:
        """All targets inside by key; of a pair only the AIS target."""
        targets = picture.targets
        hulls = self.orders.measure == "hull"
        found: dict[str, Placed] = {}
        reach = area.reach_m + (targets.widest_m if hulls else 0.0)
        for row in targets.plot(now_s).near(area.centre, reach):
            target, lat, lon = row
            if target.partner is not None and target.kind == "radar":
                continue
            hull = target_outline(target) if hulls else POINT
            if area.has(lat, lon, hull):
                found[target.key] = row
        return found

    def _pair_up(self, inside: dict[str, Placed]) -> None:
        for key, row in inside.items():
            partner = row[0].partner
            if partner is not None:
                self.members.merge(partner, key)

    def _newcomer(self, target: Target, now_s: float) -> None:
        """One is inside that was not: news, or a neighbour, or half of a known ship?"""
        members = self.members
        if members.settle:
            members.neighbours[target.key] = None
            return
        until = members.settle_until_s
        resting = target.speed_ms is None or target.speed_ms < MAKING_WAY_MS
        first_heard = members.inside[target.key] == "inside"
        if until is not None and now_s < until and first_heard and resting:
            members.neighbours[target.key] = None
        split, judged = target.split_s, members.judged_s
        if split is not None and (judged is None or split > judged):
            members.quiet.add(target.key)

    def _went(self, picture: Picture, key: str, sight: Sight, now_s: float) -> None:
        """One is outside that was inside."""
        target = picture.targets.get(key)
        if target is None or self.orders.alarm_on == "entering":
            return
        why = self._why_not(target, sight, now_s)
        if why not in STANDING:
            self.members.left.add(key)

    def _see_neighbours(self, picture: Picture, area: Area, now_s: float) -> None:
        """Neighbours are so until they have been out, by the deadband and for the off-delay."""
        members = self.members
        for key, out_since in list(members.neighbours.items()):
            if key in members.inside:
                continue
            target = picture.targets.get(key)
            if target is None:
                continue  # silent: she may lie there still
            outside = self._outside_m(area, target, now_s)
            if outside is None or outside <= 0.0 or outside < self.orders.band_m:
                members.neighbours[key] = None
            elif out_since is None:
                members.neighbours[key] = now_s
                out_since = now_s
            if members.neighbours[key] is not None and (
                now_s - (out_since or now_s) >= self.orders.clear_s
            ):
                del members.neighbours[key]

    def _of_inside(
        self,
        picture: Picture,
        area: Area,
        row: Placed,
        speaks: Subject,
        sight: Sight,
        now_s: float,
        open_keys: AbstractSet[str],
    ) -> Verdict | None:
        target = row[0]
        is_open = speaks.key in open_keys
        if self.orders.alarm_on == "leaving":
            return self._of_lost_or_back(picture, row, speaks, sight, now_s, is_open)
        news = not self.members.is_known(target.key)
        if not is_open:
            if not news or self.off_until_s is not None or self._courting(target):
                return None
            if self._why_not(target, sight, now_s, row):
                return None
        elif not news:
            return self._verdict(row, speaks, sight, holds=False, gone=True, event="inside")
        lost = self._is_lost(picture, target, now_s)
        if lost is None:
            return None  # the ear is dead, not the ship gone: unknown
        event = "lost" if lost else self.members.inside.get(target.key, "inside")
        verdict = self._verdict(row, speaks, sight, holds=True, gone=False, event=event)
        return self._as_lost(verdict, is_open) if lost else verdict

    def _of_lost_or_back(
        self,
        picture: Picture,
        row: Placed,
        speaks: Subject,
        sight: Sight,
        now_s: float,
        is_open: bool,
    ) -> Verdict | None:
        """A zone that only tells of leaving: inside is well, unless the target is lost there."""
        target, lat, lon = row
        if self._is_lost(picture, target, now_s) and not self._why_not(target, sight, now_s, row):
            verdict = self._verdict(row, speaks, sight, holds=True, gone=False, event="lost")
            return self._as_lost(verdict, is_open)
        if not is_open:
            return None
        area = self._area(picture, sight)
        band = self.orders.band_m
        deep = band == 0.0 or isinstance(area, str) or area.depth_m(lat, lon) >= band
        return self._verdict(row, speaks, sight, holds=False, gone=deep, event="back")

    def _left_verdicts(self, picture: Picture, sight: Sight, now_s: float) -> list[Verdict]:
        verdicts = []
        for key in sorted(self.members.left):
            target = picture.targets.get(key)
            place = target.place_at(now_s) if target is not None else None
            if target is None or place is None:
                continue
            subject = self._leaver(target.subject)
            row = (target, place.lat, place.lon)
            verdicts.append(
                self._verdict(row, subject, sight, holds=True, gone=False, event="left")
            )
        return verdicts

    def _leaver(self, subject: Subject) -> Subject:
        """In a zone that tells of both, coming and going are alerts of their own."""
        if self.orders.alarm_on != "both":
            return subject
        return msgspec.structs.replace(subject, key=f"{subject.key}:left")

    def _of_open(
        self, picture: Picture, area: Area, key: str, sight: Sight, now_s: float
    ) -> Verdict | None:
        """An alert stands for one that is not inside now. None: unknown."""
        plain = key.removesuffix(":left")
        target = picture.targets.get(plain)
        if target is None:
            self.members.drop((plain,))
            if now_s - picture.started_s <= DROP_AFTER_S:
                return None  # after a restart it may be heard again
            return Verdict(subject=Subject(key, "ais", plain), holds=False, gone=True)
        row = _row(target, now_s)
        if row is None:
            return None
        subject = msgspec.structs.replace(target.subject, key=key)
        if key != plain or target.partner is not None:
            # Back inside after having left; or an echo whose ship speaks for both now.
            return self._verdict(row, subject, sight, holds=False, gone=True, event="back")
        if self._is_lost(picture, target, now_s) is None:
            return None
        outside = area.outside_m(row[1], row[2], self._hull(target))
        gone = outside > 0.0 and outside >= self.orders.band_m
        return self._verdict(row, subject, sight, holds=False, gone=gone, event="out")

    def _speaks_as(self, target: Target, open_keys: AbstractSet[str]) -> Subject:
        """A pair goes by the AIS target, unless an alert already stands for the echo."""
        subject = target.subject
        if target.partner in open_keys and target.key not in open_keys:
            assert target.partner is not None
            return msgspec.structs.replace(subject, key=target.partner)
        return subject

    def _courting(self, target: Target) -> bool:
        """It may turn out within seconds to be a ship that is known here by another name."""
        other = target.courting
        return other is not None and (other in self.members.inside or self.members.is_known(other))

    def _is_lost(self, picture: Picture, target: Target, now_s: float) -> bool | None:
        """None when the input that brought it is dead: then we are deaf, not the ship silent."""
        if not is_lost(target, now_s, self.orders.lost_after):
            return False
        return True if heard_by_living_ear(picture, target, now_s) else None

    def _as_lost(self, verdict: Verdict, is_open: bool) -> Verdict:
        """Told again even when acknowledged; at least a warning."""
        low = self.orders.priority == "caution" or not is_open
        return msgspec.structs.replace(verdict, worse=True, priority="warning" if low else None)

    def _why_not(
        self, target: Target, sight: Sight, now_s: float, row: Placed | None = None
    ) -> str:
        ignore: Ignore = self.orders.ignore
        away = None
        if ignore.beyond_m is not None:
            place = row[1:] if row is not None else target.place_at(now_s)
            away = None if place is None else distance_m(sight, *_pair(place))
        return ignore.why_not(target, away, now_s, sight.utc_s)

    def _outside_m(self, area: Area, target: Target, now_s: float) -> float | None:
        row = _row(target, now_s)
        return None if row is None else area.outside_m(row[1], row[2], self._hull(target))

    def _hull(self, target: Target) -> Any:
        return target_outline(target) if self.orders.measure == "hull" else POINT

    def _verdict(
        self,
        row: Placed,
        subject: Subject,
        sight: Sight,
        *,
        holds: bool,
        gone: bool,
        event: str,
    ) -> Verdict:
        target, lat, lon = row
        facts = sight.facts(target, lat, lon, self.orders.measure)
        facts["zone"], facts["event"] = self.orders.name, event
        value = facts["range_m"]
        return Verdict(
            subject=subject,
            holds=holds,
            gone=gone,
            value=value,
            limit=self.orders.limit_m,
            unit="m",
            lat=round(lat, 6),
            lon=round(lon, 6),
            data_at_s=target.placed_s,
            facts=facts,
        )

    # -- own ship --------------------------------------------------------------------------

    def _judge_own(
        self,
        picture: Picture,
        area: Area,
        sight: Sight,
        now_s: float,
        open_keys: AbstractSet[str],
    ) -> Judgement:
        reading = picture.own.position.get(now_s)
        if sight.place is None or reading is None:
            return Judgement(missing=("position",))
        lat, lon = sight.place.lat, sight.place.lon
        if isinstance(area, Line) and area.safe == 0:
            area.safe = area.side(lat, lon)
        outside = area.outside_m(lat, lon, sight.hull)
        key, members, band = OWN_SHIP.key, self.members, self.orders.band_m
        if outside == 0.0:
            members.came(key, picture.started_s)
        elif key in members.inside:
            del members.inside[key]
            members.left.add(key)
        members.judged_s = now_s
        off = self.off_until_s is not None
        verdicts = []
        east, north = east_north(area.centre, sight.place)
        facts = {
            "name": "own ship",
            "zone": self.orders.name,
            "range_m": round(outside, 1),
            "bearing_deg": round(plane_bearing(east, north), 1),
            "assumed": sight.hull.assumed,
            "own": True,
        }
        common: dict[str, Any] = {
            "value": round(outside, 1), "limit": self.orders.limit_m, "unit": "m",
            "lat": lat, "lon": lon, "data_at_s": reading.at_s,
        }  # fmt: skip
        if self.orders.alarm_on != "leaving":
            holds = outside == 0.0 and (not off or key in open_keys)
            verdicts.append(
                Verdict(subject=OWN_SHIP, holds=holds, gone=outside > 0.0 and outside >= band,
                        facts={**facts, "event": "entered"}, **common)
            )  # fmt: skip
        if self.orders.alarm_on != "entering":
            subject = self._leaver(OWN_SHIP)
            holds = key in members.left and (not off or subject.key in open_keys)
            deep = band == 0.0 or area.depth_m(lat, lon) >= band
            verdicts.append(
                Verdict(subject=subject, holds=holds, gone=not holds and outside == 0.0 and deep,
                        facts={**facts, "event": "left"}, **common)
            )  # fmt: skip
        return Judgement(tuple(verdicts))

    def _explain_own(self, area: Area, sight: Sight) -> list[str]:
        if sight.place is None or isinstance(area, Line):
            return []
        inside = area.outside_m(sight.place.lat, sight.place.lon, sight.hull) == 0.0
        where = "inside" if inside else "outside"
        lines = [f'zone "{self.orders.name}": own ship is {where} now']
        if not inside and self.orders.alarm_on != "entering":
            lines.append("she must be inside once before her leaving can be told")
        return lines

    # -- the shape -------------------------------------------------------------------------

    def _area(self, picture: Picture, sight: Sight) -> Area | str:
        """The shape as it lies now, or what is missing to lay it down."""
        if self._polygon is not None:
            return self._polygon
        if self._line is not None:
            return self._line
        orders = self.orders
        own = POINT
        if orders.around == "ship":
            if sight.place is None:
                return "position"
            centre, own = sight.place, sight.hull
        elif orders.around == "anchor":
            if picture.watch.mark is None:
                return "anchor mark"
            centre = picture.watch.mark.place
        else:
            centre = LatLon(*_pair(orders.around))
        if orders.ring is not None:
            return Ring(centre, own, orders.ring.from_m, orders.ring.to_m)
        sector = orders.sector
        assert sector is not None  # problems() refuses a zone without a shape
        turn = 0.0
        if sector.bearings == "relative":
            axis = axis_deg(picture, sight.now_s)
            if axis is None:
                return "heading"
            turn = axis
        left, right = sector.left + turn, sector.right + turn
        return Sector(centre, own, sector.from_m, sector.to_m, left, right)


def _pair(place: object) -> tuple[float, float]:
    if isinstance(place, LatLon):
        return place.lat, place.lon
    assert isinstance(place, tuple)
    return float(place[0]), float(place[1])


def _row(target: Target, now_s: float) -> Placed | None:
    place = target.place_at(now_s)
    return None if place is None else (target, place.lat, place.lon)


def _counted(verdicts: list[Verdict]) -> tuple[Verdict, ...]:
    """Each is told how many there are now: twenty are one situation."""
    count = sum(1 for verdict in verdicts if verdict.holds)
    for verdict in verdicts:
        verdict.facts["count"] = count
    return tuple(verdicts)
