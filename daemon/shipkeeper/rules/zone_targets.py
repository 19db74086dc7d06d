"""Ships and a zone: who is inside, who is news, who has left, who fell silent.

Entering and being seen first inside count alike (IMO MSC.192(79) 5.29.3). Those inside when the
watch is set are neighbours: remembered by identity, not raised until they have been out. A
target that left stays 'left' until it is back inside. One that falls silent inside is raised
as lost (5.29.5). An AIS report and a radar echo of one ship are one subject.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING

import msgspec

from ..picture.outline import POINT, Outline, target_outline
from ..picture.plot import Placed
from ..picture.targets import DROP_AFTER_S, Target
from ..words.alert import Subject
from ..words.units import MAKING_WAY_MS
from ..words.verdict import Judgement, Verdict
from .sight import Sight, as_last_heard, distance_m, placed, silent, speaks_as, spoken_key
from .zone_members import Members
from .zone_orders import ZoneOrders
from .zone_own import leaver
from .zone_shapes import Area

if TYPE_CHECKING:
    from ..picture.picture import Picture

STANDING = ("kind", "class", "identity")  # filters that also hold for one that leaves


class Moment:
    """What all of one judgement looks at."""

    __slots__ = ("area", "now_s", "open_keys", "picture", "sight")

    def __init__(
        self, picture: Picture, area: Area, sight: Sight, open_keys: AbstractSet[str]
    ) -> None:
        self.picture, self.area, self.sight = picture, area, sight
        self.now_s, self.open_keys = sight.now_s, open_keys


class Watcher:
    """Judges ships by one zone's orders and memory."""

    def __init__(self, orders: ZoneOrders, members: Members) -> None:
        self.orders = orders
        self.members = members
        self._hulls = orders.measure == "hull"

    def judge(self, at: Moment) -> Judgement:
        inside = self.inside(at)
        verdicts = self._of_those_inside(at, inside)
        verdicts += self._of_those_left(at)
        said = {verdict.subject.key for verdict in verdicts}
        said |= {spoken_key(row[0], at.open_keys) for row in inside.values()}
        for key in at.open_keys:
            if key not in said:
                verdict = self._of_open(at, key)
                if verdict is not None:
                    verdicts.append(verdict)
        self.members.settle = False
        self.members.judged_s = at.now_s
        return Judgement(_counted(verdicts))

    def inside(self, at: Moment) -> dict[str, Placed]:
        """All targets inside by key; of a pair only the AIS target."""
        targets, area = at.picture.targets, at.area
        found: dict[str, Placed] = {}
        reach = area.reach_m + (targets.widest_m if self._hulls else 0.0)
        for row in targets.plot(at.now_s).near(area.centre, reach):
            target, lat, lon = row
            if target.partner is not None and target.kind == "radar":
                continue
            if area.has(lat, lon, target_outline(target) if self._hulls else POINT):
                found[target.key] = row
        return found

    # -- memory --------------------------------------------------------------------------------

    def _remember(self, at: Moment, inside: dict[str, Placed]) -> None:
        """Bring the memory in line with who is inside now."""
        members = self.members
        for key, row in inside.items():
            partner = row[0].partner
            if partner is not None:
                members.merge(partner, key)
        for key, row in inside.items():
            if members.came(key, row[0].first_s):
                self._newcomer(row[0], at.now_s)
        for key in members.gone_out(inside):
            self._went(at, key)
        self._see_neighbours(at)

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

    def _went(self, at: Moment, key: str) -> None:
        """One is outside that was inside."""
        target = at.picture.targets.get(key)
        if target is None or self.orders.alarm_on == "entering":
            return
        if self._why_not(at, target) not in STANDING:
            self.members.left.add(key)

    def _see_neighbours(self, at: Moment) -> None:
        """Neighbours are so until they have been out, by the deadband and for the off-delay."""
        members = self.members
        for key, out_since in list(members.neighbours.items()):
            if key in members.inside:
                continue
            target = at.picture.targets.get(key)
            row = None if target is None else placed(target, at.now_s)
            if row is None:
                continue  # silent: she may lie there still
            outside = at.area.outside_m(row[1], row[2], self._hull(row[0]))
            if outside <= 0.0 or outside < self.orders.band_m:
                members.neighbours[key] = None
            elif out_since is None and self.orders.clear_s > 0.0:
                members.neighbours[key] = at.now_s
            elif out_since is None or at.now_s - out_since >= self.orders.clear_s:
                del members.neighbours[key]

    # -- verdicts ------------------------------------------------------------------------------

    def _of_those_inside(self, at: Moment, inside: dict[str, Placed]) -> list[Verdict]:
        self._remember(at, inside)
        leaving = self.orders.alarm_on == "leaving"
        judge = self._of_one_that_may_stay if leaving else self._of_one_inside
        verdicts = []
        for row in inside.values():
            verdict = judge(at, row, speaks_as(row[0], at.open_keys))
            if verdict is not None:
                verdicts.append(verdict)
        return verdicts

    def _of_one_inside(self, at: Moment, row: Placed, speaks: Subject) -> Verdict | None:
        target = row[0]
        is_open = speaks.key in at.open_keys
        news = not self.members.is_known(target.key)
        if not is_open:
            off = self.members.off_until_s is not None
            if not news or off or self._courting(target) or self._why_not(at, target, row):
                return None
        elif not news:
            return self._verdict(at, row, speaks, "inside", holds=False, gone=True)
        lost = silent(at.picture, target, self.orders.lost_after, at.now_s)
        if lost is None:
            return None  # the ear is dead, not the ship gone: unknown
        if lost:
            self.members.lost.add(target.key)
        again = target.key in self.members.lost
        event = "heard again" if again else self.members.inside.get(target.key, "inside")
        verdict = self._verdict(at, row, speaks, event, holds=True, gone=False)
        return self._as_lost(at, verdict, target, is_open) if lost else verdict

    def _of_one_that_may_stay(self, at: Moment, row: Placed, speaks: Subject) -> Verdict | None:
        """A zone that only tells of leaving: inside is well, unless the target is lost there."""
        target, lat, lon = row
        is_open = speaks.key in at.open_keys
        off = self.members.off_until_s is not None and not is_open
        lost = silent(at.picture, target, self.orders.lost_after, at.now_s)
        if lost and not off and not self._why_not(at, target, row):
            verdict = self._verdict(at, row, speaks, "lost", holds=True, gone=False)
            return self._as_lost(at, verdict, target, is_open)
        if not is_open:
            return None
        band = self.orders.band_m
        deep = band == 0.0 or at.area.depth_m(lat, lon) >= band
        return self._verdict(at, row, speaks, "back", holds=False, gone=deep)

    def _of_those_left(self, at: Moment) -> list[Verdict]:
        verdicts = []
        for key in sorted(self.members.left):
            target = at.picture.targets.get(key)
            row = None if target is None else placed(target, at.now_s)
            if row is None:
                continue
            subject = leaver(row[0].subject, self.orders)
            if self.members.off_until_s is not None and subject.key not in at.open_keys:
                continue  # told when the zone is on again, if she is out then
            verdicts.append(self._verdict(at, row, subject, "left", holds=True, gone=False))
        return verdicts

    def _of_open(self, at: Moment, key: str) -> Verdict | None:
        """An alert stands for one that is not inside now. None: unknown."""
        plain = key.removesuffix(":left")
        target = at.picture.targets.get(plain)
        if target is None:
            if at.now_s - at.picture.started_s <= DROP_AFTER_S:
                return None  # after a restart it may be heard again
            self.members.drop(plain)
            return Verdict(subject=Subject(key, "ais", plain), holds=False, gone=True)
        row = placed(target, at.now_s)
        if row is None:
            return None
        subject = msgspec.structs.replace(target.subject, key=key)
        if key != plain or target.partner is not None:
            # Back inside after having left; or an echo whose ship speaks for both now.
            return self._verdict(at, row, subject, "back", holds=False, gone=True)
        if silent(at.picture, target, self.orders.lost_after, at.now_s) is None:
            return None
        outside = at.area.outside_m(row[1], row[2], self._hull(target))
        gone = outside > 0.0 and outside >= self.orders.band_m
        return self._verdict(at, row, subject, "out", holds=False, gone=gone)

    # -- what they are made of -----------------------------------------------------------------

    def _courting(self, target: Target) -> bool:
        """It may turn out within seconds to be a ship that is known here by another name."""
        other = target.courting
        return other is not None and (other in self.members.inside or self.members.is_known(other))

    def _as_lost(self, at: Moment, verdict: Verdict, target: Target, is_open: bool) -> Verdict:
        low = self.orders.priority == "caution" or not is_open
        return as_last_heard(verdict, target, at.sight, self.orders.measure, low=low)

    def _why_not(self, at: Moment, target: Target, row: Placed | None = None) -> str:
        """Which filter leaves the target out, '' when none does."""
        ignore, away = self.orders.ignore, None
        if ignore.beyond_m is not None:
            row = row or placed(target, at.now_s)
            away = None if row is None else distance_m(at.sight, row[1], row[2])
        return ignore.why_not(target, away, at.now_s, at.sight.utc_s)

    def _hull(self, target: Target) -> Outline:
        return target_outline(target) if self._hulls else POINT

    def _verdict(
        self, at: Moment, row: Placed, subject: Subject, event: str, *, holds: bool, gone: bool
    ) -> Verdict:
        target, lat, lon = row
        facts = at.sight.facts(target, lat, lon, self.orders.measure)
        facts["zone"], facts["event"] = self.orders.name, event
        return Verdict(
            subject=subject,
            holds=holds,
            gone=gone,
            value=facts["range_m"],
            limit=self.orders.limit_m,
            unit="m",
            lat=round(lat, 6),
            lon=round(lon, 6),
            data_at_s=target.placed_s,
            facts=facts,
        )


def _counted(verdicts: list[Verdict]) -> tuple[Verdict, ...]:
    """Each is told how many there are now: twenty are one situation."""
    count = sum(1 for verdict in verdicts if verdict.holds)
    for verdict in verdicts:
        verdict.facts["count"] = count
    return tuple(verdicts)
