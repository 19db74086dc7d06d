"""Feed: the watch's own eyes. Silence, invalid fixes and rules that cannot be judged.

Consequence: a watch that is blind raises nothing, and nothing raised looks like safety.
Response: look at the boat with your own eyes; then at the wire, the receiver, the fuse.
Time to respond: at once at anchor in wind, else before you sleep again.

One alert an input, naming every rule that it makes blind (one situation, one alert). It is
an alarm when a rule of the watch that is set cannot be judged, a warning while another input
still serves. Rules that lack what no input brings have one alert together. It cannot be
switched off while a watch is set. What is a fault is told in feed_faults.py.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal

from msgspec import field

from ..picture.inputs import InputHealth
from ..words.alert import Subject
from ..words.drill import WIRE
from ..words.orders import PriorityLabel, Quantity, RuleOrders, Seconds, Vessel
from ..words.timing import duration_text
from ..words.verdict import Judgement, Verdict
from .feed_faults import Fault, affected_by, fault_of, instead_of
from .rule import Memoryless

if TYPE_CHECKING:
    from ..picture.picture import Picture

UNSERVED = Subject("part:unserved", "part", "no input")
UNDERWAY_ALARM_S = 30.0  # alerts.md 6.4: 60 s at anchor, 30 s under way (our decision)


class FeedOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[feed]: on in every watch; only its patience can be set."""

    table: ClassVar[str] = "feed"
    many: ClassVar[bool] = False

    name: str = "feed"
    priority: PriorityLabel | Literal["none"] = "alarm"
    confirm_s: Seconds = field(default=0.0, name="confirm")
    clear_s: Seconds = field(default=30.0, name="clear")
    indicate_after_s: Annotated[float, Quantity("time", 1.0, 60.0)] = field(
        default=10.0, name="indicate_after"
    )
    alarm_after_s: Annotated[float, Quantity("time", 5.0, 600.0)] = field(
        default=60.0, name="alarm_after"
    )
    consequence: str = "a blind watch raises nothing, and that looks like safety"
    response: str = "look around with your own eyes, then at the wire and the receiver"

    def problems(self) -> list[tuple[str, str]]:
        if self.priority == "none":
            return [("priority", "the feed rule cannot be switched off while a watch is set")]
        return []

    @property
    def held_s(self) -> float:
        """At rest; under way it is UNDERWAY_ALARM_S at most."""
        return self.alarm_after_s + self.confirm_s

    def explain(self) -> list[str]:
        said = [
            "raised when an input is lost or silent, or brings nothing that can be believed: no "
            "fix, a poor one, a leap, time that goes back, one value without end, many damaged "
            "lines",
            "raised when what a rule needs is brought by no input",
            f"`status` shows it after {duration_text(self.indicate_after_s)}",
            "two receivers that disagree are told as soon as it is sure",
            "an alarm when a rule of the watch cannot be judged for it, else a warning",
        ]
        if self.alarm_after_s > UNDERWAY_ALARM_S:
            said.append(f"under way it is raised after {duration_text(UNDERWAY_ALARM_S)}")
        return said

    def build(self, vessel: Vessel) -> Feed:
        return Feed(self)


class Feed(Memoryless):
    """Judges every input; see the module's first lines."""

    prompt = True

    def __init__(self, orders: FeedOrders) -> None:
        self.orders = orders

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        patience, place = self._patience_s(picture), _place(picture)
        verdicts = []
        explained: set[str] = set()
        for health in picture.inputs.by_name.values():
            if health.name == WIRE:
                continue  # silent but for a drill
            fault = fault_of(picture, health, now_s, self.orders.indicate_after_s)
            key = f"input:{health.name}"
            affected = affected_by(picture, health) if fault is not None else ()
            explained.update(affected)
            waited = now_s - fault.since_s >= patience if fault is not None else False
            holds = fault is not None and (fault.is_proven or waited)
            if not holds and key not in open_keys:
                continue
            unheard = fault is None and health.woken
            verdicts.append(
                Verdict(
                    subject=Subject(key, "input", health.name),
                    # After a gap in the watch nothing is good again before it was heard.
                    holds=None if unheard else holds,
                    gone=fault is None,
                    value=round(now_s - fault.since_s, 3) if fault is not None else 0.0,
                    limit=patience,
                    unit="s",
                    priority="alarm" if affected else "warning",
                    data_at_s=now_s if fault is None else fault.since_s,
                    lat=place[0],
                    lon=place[1],
                    facts=_facts(picture, health, fault, affected, now_s),
                )
            )
        verdicts += self._unserved(picture, explained, now_s, patience, open_keys)
        return Judgement(tuple(verdicts))

    def _unserved(
        self,
        picture: Picture,
        explained: AbstractSet[str],
        now_s: float,
        patience: float,
        open_keys: AbstractSet[str],
    ) -> list[Verdict]:
        """Rules that are blind though no input is at fault: nothing ever brought what they
        need. One alert for them all."""
        since = {
            name: picture.blind_since.get(name, now_s)
            for name in picture.blind
            if name not in explained
        }
        # Between two grid seconds what is blind is as old as the last: what has come since then
        # is judged with the next, and is no fault now.
        come = {
            what
            for health in picture.inputs.by_name.values()
            for what, at_s in health.last_what.items()
            if at_s >= picture.blind_at_s  # what has this stamp came after that look
        }
        blind = sorted(
            name
            for name, at_s in since.items()
            if now_s - at_s >= patience and not come.intersection(picture.blind[name])
        )
        if not blind and (UNSERVED.key not in open_keys or since):
            return []
        lacking = sorted({what for name in blind for what in picture.blind[name]})
        place = _place(picture)
        first_s = min((since[name] for name in blind), default=now_s)
        return [
            Verdict(
                subject=UNSERVED,
                holds=bool(blind),
                gone=not blind,
                value=round(now_s - first_s, 3),
                limit=patience,
                unit="s",
                priority="alarm",
                data_at_s=first_s,
                lat=place[0],
                lon=place[1],
                facts={"fault": "unserved", "lacking": lacking, "affected": blind},
            )
        ]

    def _patience_s(self, picture: Picture) -> float:
        if picture.watch.watch == "underway":
            return min(self.orders.alarm_after_s, UNDERWAY_ALARM_S)
        return self.orders.alarm_after_s


def _place(picture: Picture) -> tuple[float | None, float | None]:
    """Where we were last."""
    last = picture.own.position.last()
    return (last.value.lat, last.value.lon) if last is not None else (None, None)


def _facts(
    picture: Picture,
    health: InputHealth,
    fault: Fault | None,
    affected: tuple[str, ...],
    now_s: float,
) -> dict[str, Any]:
    facts: dict[str, Any] = {
        "input": health.name,
        "fault": fault.what if fault is not None else "",
        "affected": list(affected),
        "why": health.down_why if health.up is False else "",
        "rest": instead_of(picture, health, now_s) if fault is not None else {},
    }
    if fault is not None:
        facts |= {"last_data_s": fault.since_s, **fault.facts}
        last = picture.own.position.last()
        if last is not None and "position" in picture.inputs.expected.get(health.name, ()):
            facts |= {"last_lat": last.value.lat, "last_lon": last.value.lon}
    return facts
