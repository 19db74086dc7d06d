"""Targets: every ship, beacon and radar echo around us, with its last report and its past.

One target is one ship. AIS and radar echoes are held apart here and joined in association.py.
Reports are dead-reckoned to the moment asked for while the target makes way. Nothing is
forgotten at once: a target that falls silent is 'lost' first (rules judge that) and dropped
only when it is old.
"""

from __future__ import annotations

import math

from ..words.alert import Subject
from ..words.geo import LatLon, from_east_north, velocity

MAKING_WAY_MS = 0.26  # half a knot: below this a course is noise (common practice, no source)
DROP_AFTER_S = 1800.0


class Target:
    """One target. Mutable, owned by the picture."""

    __slots__ = (
        "accurate",
        "callsign",
        "carrier_sense",
        "course_deg",
        "first_s",
        "heading_deg",
        "held_back",
        "key",
        "kind",
        "last_s",
        "lat",
        "lon",
        "lost",
        "mmsi",
        "name",
        "nav_status",
        "number",
        "off_position",
        "partner",
        "placed_s",
        "ship_type",
        "source",
        "speed_ms",
        "station",
        "text",
        "text_s",
        "to_bow_m",
        "to_port_m",
        "to_starboard_m",
        "to_stern_m",
        "turn_deg_min",
        "updates",
        "virtual",
    )

    def __init__(self, key: str, kind: str, now_s: float) -> None:
        self.key = key  # 'ais:299001234', 'radar:12'
        self.kind = kind  # 'ais' | 'radar'
        self.mmsi: int | None = None
        self.number: int | None = None  # radar target number
        self.name = ""
        self.callsign = ""
        self.station = ""  # A B base aid sar sart mob epirb long-range; radar
        self.ship_type: int | None = None
        self.lat: float | None = None
        self.lon: float | None = None
        self.placed_s: float | None = None  # stamp of the position
        self.speed_ms: float | None = None
        self.course_deg: float | None = None
        self.heading_deg: float | None = None
        self.turn_deg_min: float | None = None
        self.nav_status: int | None = None
        self.accurate: bool | None = None
        self.to_bow_m: float | None = None
        self.to_stern_m: float | None = None
        self.to_port_m: float | None = None
        self.to_starboard_m: float | None = None
        self.first_s = now_s
        self.last_s = now_s  # stamp of the last report of any sort
        self.updates = 0
        self.source = ""
        self.lost = False
        self.partner: str | None = None  # key of the echo or report of the same ship
        self.held_back = 0  # consistent reports still wanted after an implausible jump
        self.text = ""
        self.text_s: float | None = None
        self.virtual = False
        self.off_position: bool | None = None
        self.carrier_sense: bool | None = None

    @property
    def subject(self) -> Subject:
        return Subject(self.key, self.kind, self.label, self.mmsi)

    @property
    def label(self) -> str:
        """What to call it: its name, else its identity."""
        if self.name:
            return self.name
        if self.kind == "radar":
            return f"radar target {self.number}"
        return f"{self.mmsi:09d}" if self.mmsi is not None else self.key

    def place(self) -> LatLon | None:
        """The last reported position, not moved on."""
        if self.lat is None or self.lon is None:
            return None
        return LatLon(self.lat, self.lon)

    def motion(self) -> tuple[float, float]:
        """Velocity over ground, m/s east and north; zero at rest or when not known."""
        if self.speed_ms is None or self.course_deg is None or self.speed_ms < MAKING_WAY_MS:
            return 0.0, 0.0
        return velocity(self.speed_ms, self.course_deg)

    def place_at(self, now_s: float) -> LatLon | None:
        """Dead-reckoned to `now_s` along its course; the last report when at rest."""
        place = self.place()
        if place is None or self.placed_s is None:
            return None
        east, north = self.motion()
        if east == 0.0 and north == 0.0:
            return place
        run_s = now_s - self.placed_s
        return from_east_north(place, east * run_s, north * run_s)

    def speed_or_none(self) -> float | None:
        return self.speed_ms if self.speed_ms is None or math.isfinite(self.speed_ms) else None
