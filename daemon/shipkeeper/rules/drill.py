"""Drill: a hazard that is none, sent in at the door of an input, to prove the way to a person.

Consequence: the way from sensor to person fails on the night when it is needed.
Response: acknowledge it; see in the report what did not arrive, mend it, drill again.
Time to respond: minutes; it ends by itself.

The daemon puts a measurement named DRILL on a wire of its own (WIRE), so it is framed, checked,
decoded, kept in the picture, judged here and called like anything else, and nothing that another
rule looks at is touched. The rule also remembers when a drill last went well.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

import msgspec
from msgspec import field

from ..words.alert import OWN_SHIP, Subject
from ..words.drill import FRESH_S, MEASURED, WIRE
from ..words.orders import PriorityLabel, Quantity, RuleOrders, Seconds, Vessel
from ..words.verdict import Judgement, Verdict

if TYPE_CHECKING:
    from ..picture.picture import Picture

DAY_S = 86_400.0
OVERDUE = Subject("part:overdue", "part", "drill")
LOOK_EVERY_S = 60


class DrillOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[drill]: stands without being written down, in every watch."""

    table: ClassVar[str] = "drill"
    many: ClassVar[bool] = False
    left_out: ClassVar[dict[str, str]] = {}

    name: str = "drill"
    priority: PriorityLabel | Literal["none"] = "alarm"
    confirm_s: Seconds = field(default=0.0, name="confirm")
    clear_s: Seconds = field(default=0.0, name="clear")
    remind_s: Annotated[float, Quantity("time", DAY_S, 366 * DAY_S)] = field(
        default=30 * DAY_S, name="remind"
    )
    consequence: str = "the way from sensor to person fails when it is needed"
    response: str = "acknowledge it, and read the report"

    def problems(self) -> list[tuple[str, str]]:
        if self.priority not in ("alarm", "none"):
            return [("priority", "a drill proves what an alarm does; leave the key out")]
        return []

    def explain(self) -> list[str]:
        return [
            "raised by `shipkeeper drill` alone, marked as a drill everywhere; a caution when "
            f"the last good one is over {self.remind_s / DAY_S:g} days old"
        ]

    def build(self, vessel: Vessel) -> Drill:
        return Drill(self)


class _Kept(msgspec.Struct):
    """UNIX seconds: known to this watch since, last good drill."""

    since_s: float | None = None
    good_s: float | None = None


class Drill:
    """See the module's first lines. `only`: the outlets of this drill, None for all."""

    prompt = False

    def __init__(self, orders: DrillOrders) -> None:
        self.orders = orders
        self.only: tuple[str, ...] | None = None
        self._kept = _Kept()
        self._overdue_s: float | None = None  # time since the last good one, when overdue
        self._known = False  # the date was known since the start

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        verdicts = []
        channel = picture.measurements.get(MEASURED)
        reading = channel.of(WIRE, now_s) if channel is not None else None
        on = reading is not None and now_s - reading.at_s <= FRESH_S and reading.value.value > 0
        if on or OWN_SHIP.key in open_keys:
            verdicts.append(
                Verdict(subject=OWN_SHIP, holds=on, call=self.only, facts={"drill": True})
            )
        if now_s % LOOK_EVERY_S == 0:
            self._look(picture, now_s)
        if self._overdue_s is not None or OVERDUE.key in open_keys:
            facts = {"event": "overdue", "passed_s": self._overdue_s}
            facts["ever"] = self._kept.good_s is not None
            verdicts.append(
                Verdict(
                    subject=OVERDUE,
                    holds=self._overdue_s is not None if self._known else None,
                    priority="caution",
                    facts=facts,
                )
            )
        return Judgement(tuple(verdicts))

    def passed(self, utc_s: float) -> None:
        """A drill went well, all the way to a person."""
        self._kept.good_s = utc_s
        self._overdue_s, self._known = None, True

    def watch_set(self, picture: Picture, now_s: float) -> None:
        return None

    def weighty(self) -> object:
        return self._kept.since_s, self._kept.good_s

    def remember(self) -> bytes | None:
        return msgspec.json.encode(self._kept)

    def recall(self, state: bytes, now_s: float) -> None:
        try:
            self._kept = msgspec.json.decode(state, type=_Kept)
        except ValueError:  # msgspec's own errors, and text that is not UTF-8
            return

    def _look(self, picture: Picture, now_s: float) -> None:
        """Overdue? Counted from the first watch of this boat when there was none yet."""
        if picture.time.quality not in ("synchronised", "gnss"):
            return
        self._known = True
        utc_s = picture.time.utc_s(now_s)
        if self._kept.since_s is None or self._kept.since_s > utc_s:
            self._kept.since_s = utc_s
        good_s = self._kept.good_s
        known = good_s is not None and good_s <= utc_s
        passed_s = utc_s - (good_s if known and good_s is not None else self._kept.since_s)
        self._overdue_s = passed_s if passed_s > self.orders.remind_s else None
