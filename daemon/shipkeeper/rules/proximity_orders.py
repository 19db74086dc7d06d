"""[[proximity]] in the orders file: its keys, bounds, cross-checks, and what it says it will do."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Literal

from msgspec import field

from ..words.orders import Count, Metres, PriorityLabel, RuleOrders, Seconds, Vessel
from ..words.units import M_PER_NM, quantity_text
from .filters import Ignore

if TYPE_CHECKING:
    from .proximity import Proximity

CPA_BAND = 0.15  # share of the CPA limit (our decision)


class ProximityOrders(RuleOrders, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """[[proximity]]"""

    table: ClassVar[str] = "proximity"

    name: str
    priority: PriorityLabel | Literal["none"] = "alarm"
    confirm_s: Seconds = field(default=10.0, name="confirm")
    clear_s: Seconds = field(default=60.0, name="clear")
    deadband_m: Metres | None = field(default=None, name="deadband")
    cpa_m: Metres | None = field(default=None, name="cpa")
    tcpa_s: Seconds | None = field(default=None, name="tcpa")
    within_m: Metres = field(default=6 * M_PER_NM, name="within")
    range_m: Metres | None = field(default=None, name="range")
    measure: Literal["hull", "antenna"] = "hull"
    ignore: Ignore = Ignore()
    lost_after: Count = 6  # missed reports; 0: the lost-target function is off
    consequence: str = "collision"
    response: str = "look out now; light and sound; call her on the radio"

    @property
    def limit_m(self) -> float:
        return self.range_m if self.range_m is not None else self.cpa_m or 0.0

    @property
    def band_m(self) -> float:
        """15 % of the CPA limit; of a range max(20 m, 5 %)."""
        if self.deadband_m is not None:
            return self.deadband_m
        if self.range_m is not None:
            return max(20.0, 0.05 * self.range_m)
        return CPA_BAND * self.limit_m

    def problems(self) -> list[tuple[str, str]]:
        by_motion = (self.cpa_m is not None, self.tcpa_s is not None)
        found = []
        if self.range_m is not None and any(by_motion):
            found.append(("range", "give either range, or cpa and tcpa"))
        elif self.range_m is None and not all(by_motion):
            found.append(("cpa" if not by_motion[0] else "tcpa", "give cpa and tcpa, or range"))
        if self.cpa_m is not None and self.cpa_m > self.within_m:
            found.append(("within", "is less than cpa: such a ship would never be looked at"))
        return found + self.ignore.cross_check(self.table)

    def explain(self) -> list[str]:
        if self.range_m is not None:
            said = [f"raised when a target is within {_length(self.range_m)} ({self.measure})"]
        else:
            said = [
                f"raised when a target will pass within {_length(self.cpa_m or 0)} "
                f"({self.measure}) in less than {(self.tcpa_s or 0) / 60:g} min, straight on or "
                "on her curve",
                f"targets beyond {_length(self.within_m)} are not looked at",
                f"gone when the CPA is {self.band_m:.0f} m more, the TCPA a minute more, or past",
            ]
        said.append("left out: " + ("; ".join(self.ignore.told()) or "nobody"))
        said.append(
            f"a ship that closes and misses {self.lost_after} reports is raised as lost, unless "
            "radar still sees it"
            if self.lost_after
            else "lost targets are not raised: the function is off"
        )
        return said

    def build(self, vessel: Vessel) -> Proximity:
        from .proximity import Proximity

        return Proximity(self, vessel)


def _length(metres: float) -> str:
    return quantity_text(metres, "length")
