"""Filters: which targets a zone or proximity rule leaves out, and how that is told.

A filter hides nuisance, never danger for ever: those by identity may end at a date, and what is
in force is listed by `status`. Distress beacons pass every filter.
"""

from __future__ import annotations

from typing import Literal

import msgspec
from msgspec import field

from ..picture.targets import Target
from ..words.orders import Metres, Mmsi, Seconds, Speed
from ..words.units import MS_PER_KN

NEVER_HIDDEN = frozenset({"sart", "mob", "epirb"})
Kind = Literal["aid", "base", "sar", "class-a", "class-b", "radar"]


class Ignore(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`ignore = { ... }` of a zone or proximity rule."""

    slower_than_ms: Speed | None = field(default=None, name="slower_than")
    beyond_m: Metres | None = field(default=None, name="beyond")
    mmsi: tuple[Mmsi, ...] = ()
    kinds: tuple[Kind, ...] = ("aid", "base")
    radar_younger_than_s: Seconds = field(default=10.0, name="radar_younger_than")

    def why_not(self, target: Target, distance_m: float, now_s: float) -> str:
        """The reason to leave the target out, '' when it counts."""
        if target.station in NEVER_HIDDEN:
            return ""
        if target.mmsi is not None and target.mmsi in self.mmsi:
            return "identity"
        if self.beyond_m is not None and distance_m > self.beyond_m:
            return "range"
        if kind_of(target) in self.kinds:
            return "kind"
        if (
            self.slower_than_ms is not None
            and target.speed_ms is not None
            and target.speed_ms < self.slower_than_ms
        ):
            return "speed"
        if target.kind == "radar" and now_s - target.first_s < self.radar_younger_than_s:
            return "young echo"
        return ""

    def told(self) -> list[str]:
        """What is in force, in words."""
        said = []
        if self.slower_than_ms is not None:
            said.append(f"slower than {self.slower_than_ms / MS_PER_KN:g} kn")
        if self.beyond_m is not None:
            said.append(f"beyond {self.beyond_m:g} m")
        if self.mmsi:
            said.append("MMSI " + ", ".join(f"{m:09d}" for m in self.mmsi))
        if self.kinds:
            said.append("kinds " + ", ".join(self.kinds))
        if self.radar_younger_than_s:
            said.append(f"radar echoes younger than {self.radar_younger_than_s:g} s")
        return said


def kind_of(target: Target) -> str:
    return {"A": "class-a", "B": "class-b", "long-range": "class-a"}.get(
        target.station, target.station if target.kind == "ais" else "radar"
    )
