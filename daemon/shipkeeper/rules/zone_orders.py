"""[[zone]] in the orders file: its keys, bounds, cross-checks, and what it says it will do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, ClassVar, Literal

import msgspec
from msgspec import field

from ..words.orders import (
    Count,
    Latitude,
    Longitude,
    Metres,
    Number,
    PriorityLabel,
    RuleOrders,
    Seconds,
    Vessel,
    Watch,
)
from ..words.units import quantity_text
from .filters import Ignore
from .zone_shapes import Polygon

if TYPE_CHECKING:
    from .zone import Zone

Corner = tuple[Latitude, Longitude]
Bearing = Annotated[float, Number(-360.0, 360.0)]
AT_REST: tuple[Watch, ...] = ("anchored", "moored", "berthed")


class Ring(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`ring = { from = "0 m", to = "0.25 NM" }`"""

    from_m: Metres = field(default=0.0, name="from")
    to_m: Metres = field(name="to")


class Sector(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`sector = { left = 330, right = 30, from = ..., to = ..., bearings = "relative" }`"""

    left: Bearing
    right: Bearing
    from_m: Metres = field(default=0.0, name="from")
    to_m: Metres = field(name="to")
    bearings: Literal["relative", "true"] = "true"

    @property
    def is_all_round(self) -> bool:
        """The same on any heading."""
        return (self.right - self.left) % 360.0 == 0.0


class ZoneOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[[zone]]"""

    table: ClassVar[str] = "zone"

    name: str
    priority: PriorityLabel | Literal["none"] = "warning"
    confirm_s: Seconds = field(default=0.0, name="confirm")
    clear_s: Seconds = field(default=60.0, name="clear")
    deadband_m: Metres | None = field(default=None, name="deadband")
    watches: tuple[Watch, ...] = AT_REST
    around: Literal["ship", "anchor"] | Corner = "ship"
    ring: Ring | None = None
    sector: Sector | None = None
    polygon: tuple[Corner, ...] | None = None
    line: tuple[Corner, ...] | None = None
    subject: Literal["targets", "own ship"] = "targets"
    alarm_on: Literal["entering", "leaving", "both"] = "entering"
    accept_present: bool = True
    ignore: Ignore = Ignore()
    measure: Literal["hull", "antenna"] = "hull"
    lost_after: Count = 6  # missed reports; 0: the lost-target function is off
    consequence: str = "somebody is where nobody should be, unseen"
    response: str = "look out along the bearing told; find the light or the shape"

    @property
    def limit_m(self) -> float | None:
        """The outer range of a ring or sector."""
        shape = self.ring or self.sector
        return shape.to_m if shape is not None else None

    @property
    def band_m(self) -> float:
        """Out by this much counts as gone: max(20 m, 5 % of the range) when not given."""
        if self.deadband_m is not None:
            return self.deadband_m
        return max(20.0, 0.05 * (self.limit_m or 0.0))

    def problems(self) -> list[tuple[str, str]]:
        shapes = {
            "ring": self.ring, "sector": self.sector, "polygon": self.polygon, "line": self.line,
        }  # fmt: skip
        given = [key for key, shape in shapes.items() if shape is not None]
        found = []
        if len(given) != 1:
            key = given[1] if given else "ring"
            found.append((key, "give exactly one of ring, sector, polygon, line"))
        for key, shape in (("ring", self.ring), ("sector", self.sector)):
            if shape is not None and shape.from_m >= shape.to_m:
                found.append((key, "`from` must be less than `to`"))
        found += self._outline_problems()
        if self.subject == "own ship" and self.around == "ship" and self.limit_m is not None:
            found.append(("around", "own ship cannot be zoned about herself"))
        if self.line is not None and self.subject != "own ship":
            found.append(("line", 'a line is for own ship to cross; expected subject "own ship"'))
        return found + self.ignore.cross_check(self.table)

    def _outline_problems(self) -> list[tuple[str, str]]:
        if self.line is not None and (len(self.line) < 2 or len(set(self.line)) < len(self.line)):
            return [("line", "needs at least two points, each different")]
        if self.polygon is None:
            return []
        if len(self.polygon) < 3 or len(set(self.polygon)) < len(self.polygon):
            return [("polygon", "needs at least three corners, none given twice")]
        if any(abs(lat) > 89.0 for lat, _ in self.polygon):
            return [("polygon", "a polygon about a pole cannot be judged")]
        if Polygon(self.polygon).crosses_itself():
            return [("polygon", "its outline crosses itself; give corners in order")]
        return []

    def explain(self) -> list[str]:
        own = self.subject == "own ship"
        what = {"entering": "enters", "leaving": "leaves", "both": "enters or leaves"}
        who = "own ship" if own else "a target"
        said = [f"raised when {who} {what[self.alarm_on]} {self.shape_told()}"]
        if self.alarm_on != "entering":
            said.append("one that left stays raised until acknowledged or back inside")
        said.append(f"out by {self.band_m:g} m counts as gone; measured to the {self.measure}")
        if own:
            return said
        said.append("one that is first seen inside counts as one that enters")
        if self.accept_present and self.alarm_on != "leaving":
            said.append(
                "those inside when the watch is set are neighbours: not raised until they have "
                "left and come back; a boat at rest that is first heard in the six minutes after "
                "we began to listen counts as one of them"
            )
        said.append("left out: " + ("; ".join(self.ignore.told()) or "nobody"))
        said.append(
            f"a target inside that misses {self.lost_after} reports is raised as lost, unless "
            "radar still sees it"
            if self.lost_after
            else "lost targets are not raised: the function is off"
        )
        return said

    def shape_told(self) -> str:
        about = f"the {self.around}" if isinstance(self.around, str) else "a position"
        if self.ring is not None:
            return f"the ring from {_length(self.ring.from_m)} to {_length(self.ring.to_m)} " + (
                f"about {about}"
            )
        if self.sector is not None:
            s = self.sector
            limits = f"{s.left % 360:03.0f} to {s.right % 360:03.0f} {s.bearings}"
            return (
                f"the sector {'all round' if s.is_all_round else limits}, "
                f"{_length(s.from_m)} to {_length(s.to_m)}, about {about}"
            )
        if self.line is not None:
            return "the far side of the line (the near side is where she is when the watch is set)"
        return f"a polygon of {len(self.polygon or ())} corners"

    def build(self, vessel: Vessel) -> Zone:
        from .zone import Zone

        return Zone(self, vessel)


def _length(metres: float) -> str:
    return quantity_text(metres, "length")
