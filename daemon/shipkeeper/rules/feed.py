"""Feed: the watch's own eyes. Silence, invalid fixes and rules that cannot be judged.

Consequence: a watch that is blind raises nothing, and nothing raised looks like safety.
Response: look at the boat with your own eyes; then at the wire, the receiver, the fuse.
Time to respond: at once at anchor in wind, else before you sleep again.

One alert an input, naming every rule that it makes blind (one situation, one alert). It is
an alarm when a rule of the watch that is set cannot be judged, a warning while another input
still serves. It cannot be switched off while a watch is set.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from msgspec import field

from ..picture.inputs import InputHealth
from ..words.alert import Subject
from ..words.orders import PriorityLabel, Quantity, RuleOrders, Seconds, Vessel
from ..words.verdict import Judgement, Verdict
from .rule import Memoryless

if TYPE_CHECKING:
    from ..picture.picture import Picture

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

    def build(self, vessel: Vessel) -> Feed:
        return Feed(self)


class Feed(Memoryless):
    """Judges every input; see the module's first lines."""

    prompt = True

    def __init__(self, orders: FeedOrders) -> None:
        self.orders = orders

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        patience = self._patience_s(picture)
        verdicts = []
        for health in picture.inputs.by_name.values():
            fault, last_s = self._fault(picture, health, now_s)
            key = f"input:{health.name}"
            holds = fault != "" and now_s - last_s >= patience
            if not holds and key not in open_keys:
                continue
            affected = self._affected(picture, health) if fault else ()
            position = picture.own.position.last()
            verdicts.append(
                Verdict(
                    subject=Subject(key, "input", health.name),
                    holds=holds,
                    gone=not fault,
                    value=round(now_s - last_s, 3) if fault else 0.0,
                    limit=patience,
                    unit="s",
                    priority="alarm" if affected else "warning",
                    lat=position.value.lat if position else None,
                    lon=position.value.lon if position else None,
                    data_at_s=last_s,
                    facts={
                        "input": health.name,
                        "fault": fault,
                        "affected": list(affected),
                        "last_data_s": last_s,
                        "why": health.down_why,
                    },
                )
            )
        return Judgement(tuple(verdicts))

    def _patience_s(self, picture: Picture) -> float:
        if picture.watch.watch == "underway":
            return min(self.orders.alarm_after_s, UNDERWAY_ALARM_S)
        return self.orders.alarm_after_s

    def _fault(self, picture: Picture, health: InputHealth, now_s: float) -> tuple[str, float]:
        """('', ...) when well; else what is wrong and since when there was no good data."""
        indicate = self.orders.indicate_after_s
        last_line = health.last_line_s if health.last_line_s is not None else health.first_s
        expected = picture.inputs.expected.get(health.name, ())
        if health.up is False and expected and now_s - last_line > indicate:
            return "lost", last_line
        if set(expected) == {"ais"} and "own report" not in health.last_what:
            # An empty bay is no fault: only a transponder that told of itself can fall silent.
            return "", now_s
        if now_s - last_line > indicate and (expected or self._affected(picture, health)):
            return ("lost" if health.up is False else "silent"), last_line
        for what in self._owed(picture, health):
            last = health.last_what.get(what, health.first_s)
            if what == "position" and health.name in picture.own.invalid_since:
                return "no fix", min(last, picture.own.invalid_since[health.name])
            if what == "position" and health.jump_since_s is not None:
                return "jump", last
            if what == "ais":
                continue  # an empty bay is no fault
            if now_s - last > indicate:
                return f"no {what}", last
        return "", now_s

    @staticmethod
    def _owed(picture: Picture, health: InputHealth) -> list[str]:
        """What this input should bring: what the orders expect, and what it once brought and
        a rule now lacks."""
        owed = list(picture.inputs.expected.get(health.name, ()))
        lacking = {what for missing in picture.blind.values() for what in missing}
        owed += [w for w in health.last_what if w in lacking and w not in owed]
        return owed

    @staticmethod
    def _affected(picture: Picture, health: InputHealth) -> tuple[str, ...]:
        """Rules that cannot be judged for lack of what this input brings."""
        brings = set(picture.inputs.expected.get(health.name, ())) | set(health.last_what)
        return tuple(
            rule for rule, missing in picture.blind.items() if any(w in brings for w in missing)
        )
