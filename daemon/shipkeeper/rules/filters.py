"""Filters: which targets a zone or proximity rule leaves out, and how that is told.

A filter hides nuisance, never danger for ever: identities may be hidden from a zone for good
(own tender), but from a proximity rule only until a date; distress beacons pass every filter;
and what is in force is listed by `status` (IMO MSC.192(79) 5.26.3).
"""

from __future__ import annotations

from datetime import UTC, datetime
from functools import lru_cache
from typing import Annotated, Literal

import msgspec
from msgspec import field

from ..picture.targets import Target
from ..words.orders import Metres, Mmsi, Number, Seconds, Speed
from ..words.units import M_PER_NM, MS_PER_KN

NEVER_HIDDEN = frozenset({"sart", "mob", "epirb"})
Kind = Literal[
    "aid", "base", "sar", "craft", "radar", "class-a", "class-b", "fishing", "sailing",
    "pleasure", "high-speed", "tug", "pilot", "passenger", "cargo", "tanker", "unknown",
]  # fmt: skip

# Ship types of ITU-R M.1371-5 table 53 (from memory), by their tens or outright.
_BY_TEN = {4: "high-speed", 6: "passenger", 7: "cargo", 8: "tanker"}
_BY_TYPE = {30: "fishing", 31: "tug", 32: "tug", 36: "sailing", 37: "pleasure", 50: "pilot",
            52: "tug"}  # fmt: skip


class Friend(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`{ mmsi = 299000001, until = "2026-08-01" }`: an expected visitor, for a time."""

    mmsi: Mmsi
    until: str


class Ignore(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`ignore = { ... }` of a zone or proximity rule."""

    slower_than_ms: Speed | None = field(default=None, name="slower_than")
    beyond_m: Metres | None = field(default=None, name="beyond")
    mmsi: tuple[Mmsi, ...] = ()
    friends: tuple[Friend, ...] = ()
    kinds: tuple[Kind, ...] = ("aid", "base")
    classes: tuple[Literal["A", "B"], ...] = field(default=(), name="class")
    radar_younger_than_s: Seconds = field(default=10.0, name="radar_younger_than")
    radar_fewer_than: Annotated[int, Number(0, 1000)] = 3  # updates of the track

    def cross_check(self, table: str) -> list[tuple[str, str]]:
        """Cross-checks; `table` is the rule's kind."""
        found = []
        for friend in self.friends:
            if date_s(friend.until) is None:
                said = f'"{friend.until}" is no date; expected one as "2026-08-01"'
                found.append(("ignore.friends", said))
        if table == "proximity" and self.mmsi:
            found.append(
                (
                    "ignore.mmsi",
                    "a ship may not be hidden from a proximity rule for ever; expected "
                    'friends = [{ mmsi = ..., until = "2026-08-01" }]',
                )
            )
        return found

    def why_not(
        self, target: Target, distance_m: float | None, now_s: float, utc_s: float | None = None
    ) -> str:
        """The reason to leave the target out, '' when it counts. distance_m: from own ship."""
        if target.station in NEVER_HIDDEN:
            return ""
        if target.mmsi is not None and self._is_known(
            target.mmsi, now_s if utc_s is None else utc_s
        ):
            return "identity"
        if self.beyond_m is not None and distance_m is not None and distance_m > self.beyond_m:
            return "range"
        if self.classes and target.station in self.classes:
            return "class"
        if self.kinds and not self.kinds_of(target).isdisjoint(self.kinds):
            return "kind"
        if (
            self.slower_than_ms is not None
            and target.speed_ms is not None
            and target.speed_ms < self.slower_than_ms
        ):
            return "speed"
        if target.kind == "radar" and (
            target.acquiring
            or now_s - target.first_s < self.radar_younger_than_s
            or target.updates < self.radar_fewer_than
        ):
            return "young echo"
        return ""

    def _is_known(self, mmsi: int, utc_s: float) -> bool:
        if mmsi in self.mmsi:
            return True
        return any(f.mmsi == mmsi and utc_s < (date_s(f.until) or 0.0) for f in self.friends)

    @staticmethod
    def kinds_of(target: Target) -> frozenset[str]:
        return _kinds(target.kind, target.station, target.ship_type)

    def told(self, utc_s: float | None = None) -> list[str]:
        """What is in force, in words; with a time, without the friends whose time is over."""
        said = []
        if self.slower_than_ms is not None:
            said.append(f"slower than {self.slower_than_ms / MS_PER_KN:g} kn")
        if self.beyond_m is not None:
            said.append(f"beyond {self.beyond_m / M_PER_NM:.3g} NM")
        if self.mmsi:
            said.append("MMSI " + ", ".join(f"{m:09d}" for m in self.mmsi))
        said += [
            f"MMSI {f.mmsi:09d} until {f.until}"
            for f in self.friends
            if utc_s is None or utc_s < (date_s(f.until) or 0.0)
        ]
        if self.classes:
            said.append("class " + ", ".join(self.classes))
        if self.kinds:
            said.append("kinds " + ", ".join(self.kinds))
        if self.radar_younger_than_s or self.radar_fewer_than:
            said.append(
                f"radar echoes younger than {self.radar_younger_than_s:g} s or of fewer than "
                f"{self.radar_fewer_than} updates"
            )
        return said


@lru_cache(maxsize=256)
def date_s(text: str) -> float | None:
    """A date or time of day in UTC -> UNIX seconds; None when it is neither."""
    try:
        when = datetime.fromisoformat(text)
    except ValueError:
        return None
    return (when if when.tzinfo is not None else when.replace(tzinfo=UTC)).timestamp()


@lru_cache(maxsize=1024)
def _kinds(kind: str, station: str, ship_type: int | None) -> frozenset[str]:
    if kind == "radar":
        return frozenset({"radar"})
    words = {station}
    words |= {"A": {"class-a"}, "B": {"class-b"}, "long-range": {"class-a"}}.get(station, set())
    if ship_type is not None:
        words.add(_BY_TYPE.get(ship_type) or _BY_TEN.get(ship_type // 10, "unknown"))
    elif station in ("A", "B", ""):
        words.add("unknown")
    return frozenset(words)
