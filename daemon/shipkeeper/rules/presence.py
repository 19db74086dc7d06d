"""Presence: is whoever has the watch still there? Asked again and again, in growing earnest.

Consequence: the one on watch has fallen asleep or overboard, and nobody keeps a look-out.
Response: answer; else go to the watch place and see where they are.
Time to respond: seconds, then minutes.

Stages and times are those of the bridge watch alarm (IMO MSC.128(75) 4.1.2): dormant for 3 to
12 minutes, then seen; 15 s later heard at the watch place; 15 s later others are called; 90 s
(to 3 min in a larger vessel) later everyone. One action answers all of it (4.1.3.2): `shipkeeper
here`, a button, or any other command given aboard (MSC/Circ.566 28). It is asked only of a crew
aboard. Further people are called by the call list, as of any alarm.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

import msgspec
from msgspec import field

from ..words.alert import OWN_SHIP
from ..words.orders import PriorityLabel, Quantity, RuleOrders, Seconds, Vessel, Watch
from ..words.verdict import NOTHING, Judgement, Verdict

if TYPE_CHECKING:
    from ..picture.picture import Picture

HEARD_AFTER_S = 15.0
OTHERS_AFTER_S = 30.0  # 15 s later
DORMANT = -1
PRIORITY_OF = ("caution", "warning", "alarm", "alarm")


class PresenceOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[presence]: only when it is written down."""

    table: ClassVar[str] = "presence"
    many: ClassVar[bool] = False

    name: str = "presence"
    priority: PriorityLabel | Literal["none"] = "alarm"
    confirm_s: Seconds = field(default=0.0, name="confirm")
    clear_s: Seconds = field(default=0.0, name="clear")
    watches: tuple[Watch, ...] = ("underway",)
    every_s: Annotated[float, Quantity("time", 180.0, 720.0)] = field(default=360.0, name="every")
    everyone_after_s: Annotated[float, Quantity("time", 90.0, 180.0)] = field(
        default=90.0, name="everyone_after"
    )
    consequence: str = "nobody keeps a look-out"
    response: str = "answer: shipkeeper here, or the button; else go and see who has the watch"

    def problems(self) -> list[tuple[str, str]]:
        if self.priority not in ("alarm", "none"):
            return [("priority", "it grows from caution to alarm by itself; leave the key out")]
        return []

    def explain(self) -> list[str]:
        return [
            f"asks for a sign of whoever is aboard every {self.every_s / 60:g} min: shows it, "
            f"sounds {HEARD_AFTER_S:g} s later, calls others after {OTHERS_AFTER_S:g} s, tells "
            f"all of them again {self.everyone_after_s:g} s after that",
            "answered by `shipkeeper here`, by a button, or by any command given aboard",
        ]

    def build(self, vessel: Vessel) -> Presence:
        return Presence(self)


class _Kept(msgspec.Struct, array_like=True):
    stage: int


class Presence:
    """See the module's first lines."""

    prompt = False

    def __init__(self, orders: PresenceOrders) -> None:
        self.orders = orders
        self._since_s: float | None = None  # the watch was set, or taken up again
        self._stage = DORMANT
        after_s = OTHERS_AFTER_S + orders.everyone_after_s
        self._offsets_s = (0.0, HEARD_AFTER_S, OTHERS_AFTER_S, after_s)

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        signs = [picture.person_s]
        if self._since_s is not None:
            signs.append(self._since_s)
        if self._stage == DORMANT:
            signs.append(picture.started_s)  # a gap in the watch is no fault of theirs
        passed_s = now_s - max(signs)
        if picture.watch.crew != "aboard":
            passed_s = 0.0
        over_s = passed_s - self.orders.every_s
        self._stage = sum(over_s >= offset for offset in self._offsets_s) - 1
        if self._stage == DORMANT and not open_keys:
            return NOTHING
        stage = max(self._stage, 0)
        return Judgement(
            (
                Verdict(
                    subject=OWN_SHIP,
                    holds=self._stage >= 0,
                    value=round(passed_s, 1),
                    limit=self.orders.every_s,
                    unit="s",
                    priority=PRIORITY_OF[stage],
                    worse=self._stage == len(PRIORITY_OF) - 1,
                    facts={"stage": stage, "passed_s": passed_s},
                ),
            )
        )

    def watch_set(self, picture: Picture, now_s: float) -> None:
        self._since_s = now_s

    def weighty(self) -> object:
        """How far it has come: a restart must not let whoever does not answer sleep on."""
        return self._stage

    def remember(self) -> bytes | None:
        return msgspec.json.encode(_Kept(self._stage))

    def recall(self, state: bytes, now_s: float) -> None:
        try:
            stage = msgspec.json.decode(state, type=_Kept).stage
        except ValueError:  # msgspec's own errors, and text that is not UTF-8
            return
        if not 0 <= stage < len(self._offsets_s):
            return
        self._stage = stage
        self._since_s = now_s - self.orders.every_s - self._offsets_s[stage]
