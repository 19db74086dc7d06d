"""Contact: a switch in the boat says something: bilge float, hatch, shore power.

Consequence: what the switch guards (water in the bilge, a hatch opened, the charger dead).
Response: go and look; at a bilge float start the pump and look for the leak.
Time to respond: at once for water; judged the moment the line changes.
"""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

from msgspec import field

from ..words.alert import OWN_SHIP
from ..words.orders import Number, PriorityLabel, Quantity, RuleOrders, Seconds, Vessel
from ..words.verdict import Judgement, Verdict
from .rule import Memoryless

if TYPE_CHECKING:
    from ..picture.picture import Picture


class ContactOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[[contact]]"""

    table: ClassVar[str] = "contact"

    name: str
    priority: PriorityLabel | Literal["none"] = "alarm"
    confirm_s: Seconds = field(default=0.0, name="confirm")
    clear_s: Seconds = field(default=30.0, name="clear")
    chip: str = "/dev/gpiochip0"
    line: Annotated[int, Number(0, 511)]
    when: Literal["closed", "open"] = "closed"
    pull: Literal["up", "down", "none"] = "up"
    debounce_s: Annotated[float, Quantity("time", 0.0, 10.0)] = field(default=0.05, name="debounce")
    consequence: str = "what the switch guards"
    response: str = "go and look"

    def explain(self) -> list[str]:
        return [
            f"raised when the contact on {self.chip} line {self.line} is {self.when} "
            f"for {self.debounce_s * 1000:g} ms; judged at once"
        ]

    def build(self, vessel: Vessel) -> Contact:
        return Contact(self)


class Contact(Memoryless):
    """See the module's first lines."""

    prompt = True

    def __init__(self, orders: ContactOrders) -> None:
        self.orders = orders

    def judge(self, picture: Picture, now_s: float, open_keys: AbstractSet[str]) -> Judgement:
        reading = picture.contacts.get(self.orders.name)
        if reading is None or reading.value is None:
            return Judgement(missing=("contact",))
        holds = reading.value == (self.orders.when == "closed")
        return Judgement(
            (
                Verdict(
                    subject=OWN_SHIP,
                    holds=holds,
                    value=1.0 if reading.value else 0.0,
                    data_at_s=reading.at_s,
                    facts={"closed": reading.value, "name": self.orders.name},
                ),
            )
        )
