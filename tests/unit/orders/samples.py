"""Kinds of our own for the tests of the loader, and good orders for them.

They are as the kinds in the house are, but theirs may change without a test here failing.
"""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal

import msgspec
from msgspec import field

from shipkeeper.orders import Kinds
from shipkeeper.words.orders import (
    InputTable,
    Metres,
    Number,
    OutletTable,
    Place,
    PriorityLabel,
    Quantity,
    RuleOrders,
    Seconds,
    Watch,
)


class Ring(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    from_m: Metres = field(default=0.0, name="from")
    to_m: Metres = field(name="to")


class ZoneOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    table: ClassVar[str] = "zone"
    left_out: ClassVar[dict[str, str]] = {"deadband": "20 m"}

    name: str
    around: Literal["ship", "anchor"] | Place = "ship"
    ring: Ring | None = None
    polygon: tuple[Place, ...] | None = None
    deadband_m: Metres | None = field(default=None, name="deadband")
    accept_present: bool = True
    mmsi: tuple[Annotated[int, Number(0, 999_999_999)], ...] = ()

    def problems(self) -> list[tuple[str, str]]:
        if (self.ring is None) == (self.polygon is None):
            return [("ring", "give one of ring, polygon")]
        if self.ring is not None and self.ring.from_m >= self.ring.to_m:
            return [("ring.to", "must be more than from")]
        return []

    def explain(self) -> list[str]:
        return [f"raised when a target comes within {self.ring.to_m if self.ring else 0:g} m"]


class DragOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    table: ClassVar[str] = "drag"
    many: ClassVar[bool] = False

    name: str = "drag"
    priority: PriorityLabel | Literal["none"] = "alarm"
    watches: tuple[Watch, ...] = ("anchored",)
    radius_m: Metres | None = field(default=None, name="radius")


class FeedOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    table: ClassVar[str] = "feed"
    many: ClassVar[bool] = False

    name: str = "feed"
    priority: PriorityLabel | Literal["none"] = "alarm"
    alarm_after_s: Seconds = field(default=60.0, name="alarm_after")

    def problems(self) -> list[tuple[str, str]]:
        return [("priority", "cannot be switched off")] if self.priority == "none" else []


class TcpInput(InputTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    tcp: str


class SerialInput(InputTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    serial: str
    baud: Annotated[int, Number(300, 921_600)] = 4800


class Push(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    urls: str
    quiet_for_s: Annotated[float, Quantity("time", 1.0, 600.0)] = field(
        default=30.0, name="quiet_for"
    )


class PushOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    push: Push


class Bell(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    bell: bool = False


class TerminalOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    kind: ClassVar[str] = "terminal"

    terminal: Bell


KINDS = Kinds(
    rules=(ZoneOrders, DragOrders, FeedOrders),
    inputs=(TcpInput, SerialInput),
    outlets=(PushOutlet, TerminalOutlet),
)

GOOD = """\
[vessel]
name = "Curlew"
mmsi = 0
length = "11.4 m"
beam = "3.6 m"
antenna = { from_bow = "8.9 m", from_port = "1.8 m" }
bow_height = "1.3 m"
rode = "chain"
transducer_depth = "0.6 m"
draught = "1.8 m"

[[input]]
name = "gnss"
serial = "/dev/serial/by-id/usb-gnss"
baud = 4800
expect = ["position"]

[[zone]]
name = "inner guard zone"   # a comment with = and [brackets]
around = "ship"
ring = { from = "0 m", to = "0.25 NM" }
confirm = "5 s"
watches = ["anchored", "moored"]
call = ["buzzer"]

[[zone]]
name = "reef"
polygon = [
    [57.1, -5.4],
    [57.1, -5.3],   # north-east
    [57.2, -5.3],
]

[drag]
radius = "45 m"

[feed]
alarm_after = "1 min"

[[outlet]]
name = "buzzer"
terminal = {}

[[outlet]]
name = "skipper"
push = { urls = "credential:push-urls" }
from_priority = "warning"

[[call_list]]
after = "30 s"
call = ["skipper"]
"""
