"""Distress: an AIS beacon calls for help nearby; a safety text; an aid off its position.

Consequence: somebody is in the water or in a raft, and we may be the nearest who know.
Response: MOB: count heads aboard first. Then plot it, listen on VHF channel 16, tell the
coastguard, go if you can. This is no substitute for the radio watch: DSC, voice and Navtex are
not heard here.
Time to respond: at once.

AIS-SART (970), MOB (972) and EPIRB-AIS (974) are told by their MMSI (ITU-R M.585-9); active by
navigational status 14 or an ACTIVE text, on test by status 15 or a TEST text (ITU-R M.1371-5
Annex 9; the test forms from memory). A beacon that says neither counts as active.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from msgspec import field

from ..picture.reporting import ACTIVE_STATUS, BEACON_PREFIX, BEACONS
from ..picture.targets import DROP_AFTER_S, Target
from ..words.alert import Subject
from ..words.observations import AisText
from ..words.orders import Metres, PriorityLabel, RuleOrders, Seconds, Vessel
from ..words.units import M_PER_NM
from ..words.verdict import Judgement, Verdict
from .rule import Memoryless
from .sight import Sight, look

if TYPE_CHECKING:
    from ..picture.picture import Picture

TEST_STATUS = 15
SILENT_S = 600.0  # a beacon sends every minute; after this nobody knows whether it still does
TEXT_STANDS_S = 600.0
TEXT_OF_BEACON_S = 420.0  # its text comes every four minutes (M.1371-5 Annex 9, from memory)
DEVICES = {"sart": "AIS-SART", "mob": "MOB beacon", "epirb": "EPIRB-AIS"}


class DistressOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[distress]: stands without being written; `priority = "none"` switches it off."""

    table: ClassVar[str] = "distress"
    many: ClassVar[bool] = False

    name: str = "distress"
    priority: PriorityLabel | Literal["none"] = "alarm"
    confirm_s: Seconds = field(default=0.0, name="confirm")
    clear_s: Seconds = field(default=60.0, name="clear")
    ours_within_m: Metres = field(default=0.5 * M_PER_NM, name="ours_within")
    aids_within_m: Metres = field(default=3 * M_PER_NM, name="aids_within")
    tests: bool = True
    texts: bool = True
    consequence: str = "somebody is in the water or in a raft, and we may be the nearest who know"
    response: str = (
        "count heads aboard; plot it; listen on VHF channel 16; tell the coastguard; go if you can"
    )

    def explain(self) -> list[str]:
        said = [
            f"raised at once as {self.priority} when an AIS-SART, MOB or EPIRB-AIS is active",
            f"a MOB beacon within {self.ours_within_m / M_PER_NM:.3g} NM is an emergency alarm: "
            "it may be one of ours",
            f"an aid to navigation off its position within {self.aids_within_m / M_PER_NM:.3g} "
            "NM is a caution",
            "this is no substitute for the radio watch",
        ]
        if self.tests:
            said.append("a beacon on test is a caution")
        if self.texts:
            said.append("a safety text is a caution, for ten minutes")
        return said

    def build(self, vessel: Vessel) -> Distress:
        return Distress(self, vessel)


class Distress(Memoryless):
    """See the module's first lines."""

    prompt = True

    def __init__(self, orders: DistressOrders, vessel: Vessel) -> None:
        self.orders = orders
        self.vessel = vessel

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        sight: Sight | None = None
        verdicts = []
        for target in sorted(picture.targets.marked.values(), key=lambda target: target.serial):
            if not _concerns(target):
                continue
            sight = sight or look(picture, self.vessel, now_s, "antenna")
            verdict = self._of(target, sight, now_s)
            if verdict is not None and (verdict.holds or verdict.subject.key in open_keys):
                verdicts.append(verdict)
        if self.orders.texts:
            verdicts += self._texts(picture, now_s, open_keys)
        said = {verdict.subject.key for verdict in verdicts}
        for key in open_keys:
            if key not in said:
                verdict = self._gone(picture, key, now_s)
                if verdict is not None:
                    verdicts.append(verdict)
        return Judgement(tuple(verdicts))

    def _of(self, target: Target, sight: Sight, now_s: float) -> Verdict | None:
        facts = self._facts(target, sight, now_s)
        if device_of(target) is None and target.nav_status != ACTIVE_STATUS:
            return self._aid(target, facts)
        if now_s - target.last_s > SILENT_S:
            return None  # unknown: it may have sunk, or we went out of its reach
        test = is_test(target, now_s)
        facts |= {
            "device": DEVICES.get(device_of(target) or "", "distress signal"),
            "test": test,
            "text": _text_of(target, now_s),
            "event": "test" if test else "active",
            "age_s": None if target.placed_s is None else round(now_s - target.placed_s, 1),
        }
        holds = self.orders.tests or not test
        return _verdict(target, facts, holds=holds, priority=self._priority(target, facts, test))

    def _priority(self, target: Target, facts: dict[str, Any], test: bool) -> str | None:
        if test:
            return "caution"
        device = device_of(target)
        if device is None:
            return "warning"  # a ship that shows the status of a beacon: most often a slip
        near = facts["range_m"] is not None and facts["range_m"] <= self.orders.ours_within_m
        return "emergency alarm" if device == "mob" and near else None

    def _aid(self, target: Target, facts: dict[str, Any]) -> Verdict:
        away = facts["range_m"]
        off = target.off_position is True and not target.virtual
        holds = off and away is not None and away <= self.orders.aids_within_m
        facts |= {"device": "aid off position", "test": False, "text": "", "event": "aid"}
        return _verdict(target, facts, holds=holds, priority="caution")

    def _facts(self, target: Target, sight: Sight, now_s: float) -> dict[str, Any]:
        place = target.place_at(now_s)
        if place is None:
            return {"name": target.label, "range_m": None, "bearing_deg": None, "lat": None}
        facts = sight.facts(target, place.lat, place.lon, "antenna")
        return {**facts, "lat": round(place.lat, 6), "lon": round(place.lon, 6)}

    def _texts(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> list[Verdict]:
        """The latest safety text of each sender that is no beacon."""
        latest: dict[int, tuple[float, AisText]] = {}
        for heard_s, fact in picture.distress_texts:
            if BEACON_PREFIX.get(fact.mmsi // 1_000_000) is None:
                latest[fact.mmsi] = (heard_s, fact)
        verdicts = []
        for mmsi, (heard_s, fact) in latest.items():
            key = f"text:{mmsi:09d}"
            holds = now_s - heard_s < TEXT_STANDS_S
            if not holds and key not in open_keys:
                continue
            sender = picture.targets.get(f"ais:{mmsi:09d}")
            name = sender.label if sender is not None else f"{mmsi:09d}"
            facts = {
                "name": name, "device": "safety text", "test": False, "text": fact.text,
                "range_m": None, "bearing_deg": None, "event": "text",
            }  # fmt: skip
            verdicts.append(
                Verdict(
                    subject=Subject(key, "ais", name, mmsi),
                    holds=holds,
                    gone=not holds,
                    priority="caution",
                    data_at_s=heard_s,
                    facts=facts,
                )
            )
        return verdicts

    @staticmethod
    def _gone(picture: Picture, key: str, now_s: float) -> Verdict | None:
        """What stood of one that is no longer in the picture. None: unknown."""
        if key.startswith("ais:") and picture.targets.get(key) is not None:
            return None
        if now_s - picture.started_s <= DROP_AFTER_S:
            return None  # after a restart it may be heard again
        return Verdict(subject=Subject(key, "ais", key.partition(":")[2]), holds=False, gone=True)


def device_of(target: Target) -> str | None:
    """'sart', 'mob' or 'epirb' by station or MMSI; None for all else."""
    if target.station in BEACONS:
        return target.station
    return BEACON_PREFIX.get(target.mmsi // 1_000_000) if target.mmsi is not None else None


def is_test(target: Target, now_s: float) -> bool:
    """On test, and not calling for help. In doubt it calls."""
    if target.nav_status == ACTIVE_STATUS:
        return False
    text = _text_of(target, now_s).upper()
    if "ACTIVE" in text:
        return False
    return "TEST" in text or target.nav_status == TEST_STATUS


def _text_of(target: Target, now_s: float) -> str:
    fresh = target.text_s is not None and now_s - target.text_s <= TEXT_OF_BEACON_S
    return target.text if fresh else ""


def _concerns(target: Target) -> bool:
    return (
        target.station in BEACONS
        or target.nav_status == ACTIVE_STATUS
        or target.off_position is not None
        or (target.mmsi is not None and target.mmsi // 1_000_000 in BEACON_PREFIX)
    )


def _verdict(
    target: Target, facts: dict[str, Any], *, holds: bool, priority: str | None
) -> Verdict:
    return Verdict(
        subject=target.subject,
        holds=holds,
        gone=not holds,
        value=facts["range_m"],
        unit="m",
        lat=facts.get("lat"),
        lon=facts.get("lon"),
        data_at_s=target.placed_s if target.placed_s is not None else target.text_s,
        priority=priority,
        facts=facts,
    )
