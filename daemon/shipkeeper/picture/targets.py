"""Targets: every ship, beacon and radar echo around us, with its last report and its past.

One target is one ship. AIS and radar echoes are held apart here and joined in association.py.
Reports are dead-reckoned to the moment asked for while the target makes way. Nothing is
forgotten at once: a target that falls silent is 'lost' first (rules judge that) and dropped
only when it is old.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ..words.alert import Subject
from ..words.geo import LatLon, metres_per_degree, velocity, wrap_longitude
from ..words.units import MAKING_WAY_MS

if TYPE_CHECKING:
    from .smoothing import Smoother

DROP_AFTER_S = 1800.0
STILL = (0.0, 0.0)


class Target:
    """One target. Mutable, owned by the picture."""

    __slots__ = (
        "_motion",
        "_subject",
        "accurate",
        "acquiring",
        "bend_s",
        "bent_deg_min",
        "callsign",
        "carrier_sense",
        "cell",
        "course_deg",
        "courting",
        "first_s",
        "heading_deg",
        "held_back",
        "held_lat",
        "held_lon",
        "held_s",
        "hull",
        "interval_s",
        "joined_s",
        "key",
        "kind",
        "last_s",
        "lat",
        "led_s",
        "lon",
        "look_s",
        "lost",
        "mmsi",
        "name",
        "nav_status",
        "number",
        "off_position",
        "pace",
        "partner",
        "placed_s",
        "reckon_s",
        "reckoned",
        "reference",
        "second",
        "serial",
        "ship_type",
        "smoother",
        "source",
        "speed_ms",
        "split_s",
        "station",
        "stray_s",
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
        self.serial = 0  # in the order in which they were first heard
        self.look_s = math.inf  # when its silence is to be looked at (silence.py)
        self._subject: Subject | None = None
        self.mmsi: int | None = None
        self.number: int | None = None  # radar target number
        self.name = ""
        self.callsign = ""
        self.station = ""  # A B base aid sar sart mob epirb long-range craft; radar
        self.ship_type: int | None = None
        self.lat: float | None = None
        self.lon: float | None = None
        self.placed_s: float | None = None  # stamp of the position
        self.second: int | None = None  # UTC second that the report itself carried
        self.speed_ms: float | None = None
        self.course_deg: float | None = None
        self.heading_deg: float | None = None
        self.turn_deg_min: float | None = None  # as the ship says it
        self.bent_deg_min: float | None = None  # as her courses show it
        self.bend_s: float | None = None  # stamp of the course before
        self.nav_status: int | None = None
        self.accurate: bool | None = None
        self.to_bow_m: float | None = None
        self.to_stern_m: float | None = None
        self.to_port_m: float | None = None
        self.to_starboard_m: float | None = None
        self.first_s = now_s  # first heard; once it is known where, since when that is known
        self.last_s = now_s  # stamp of the last report of any sort
        self.interval_s: float | None = None  # how often it is heard, smoothed
        self.updates = 0
        self.source = ""
        self.lost = False
        self.partner: str | None = None  # key of the echo or report of the same ship
        self.courting: str | None = None  # key of the echo that it may turn out to be
        self.joined_s: float | None = None  # when the two were found to be one
        self.split_s: float | None = None  # when they drew apart again
        # Her AIS is silent and her echo is there: stamp of the last place she told herself.
        self.led_s: float | None = None
        self.held_back = 0  # consistent reports still wanted after an implausible jump
        self.held_lat, self.held_lon, self.held_s = 0.0, 0.0, 0.0
        self.text = ""
        self.text_s: float | None = None
        self.virtual = False
        self.off_position: bool | None = None
        self.carrier_sense: bool | None = None
        self.acquiring = False  # a radar track not yet steady
        self.reference = False  # the radar measures own motion by it: it stands still
        self.smoother: Smoother | None = None
        # Her way as her places show it (m/s east, north), while she tells none; what she may do is
        # judged by it, where she is is not: her last place stands.
        self.reckoned: tuple[float, float] | None = None
        self.hull: object = None  # outline.py keeps the hull here until the next report
        self.cell: int | None = None  # where it is about, and until when it is (cells.py)
        self.stray_s = math.inf
        # Dead reckoning: degrees a second, None until `rates` is first asked for them; and for
        # how long it may be believed.
        self.pace: tuple[float, float] | None = STILL
        self.reckon_s = 0.0
        self._motion: tuple[float, float] | None = STILL

    @property
    def subject(self) -> Subject:
        subject = self._subject
        if subject is None or subject.name != self.label:
            subject = self._subject = Subject(self.key, self.kind, self.label, self.mmsi)
        return subject

    @property
    def label(self) -> str:
        """What to call it: its name, else its identity."""
        if self.name:
            return self.name
        if self.kind == "radar":
            return f"radar target {self.number}"
        if self.mmsi is None:
            return self.key
        if self.station == "sar":  # who is woken by a number must know that it flies
            return f"SAR aircraft {self.mmsi:09d}"
        return f"{self.mmsi:09d}"

    @property
    def sighted_s(self) -> float:
        """From when its silence counts: a ship that still talks but no longer tells where she
        is, is lost like one that has fallen silent."""
        if self.kind == "ais" and self.placed_s is not None:
            return self.placed_s
        return self.last_s

    @property
    def heard_s(self) -> float:
        """The last that is known of her, by herself or by an echo that she follows."""
        return self.last_s if self.led_s is None else max(self.last_s, self.sighted_s)

    def put_place(self, lat: float, lon: float, at_s: float) -> None:
        if self.placed_s is None:
            self.first_s = at_s  # her name may have come before: it says nothing of where she is
        self.lat, self.lon, self.placed_s = lat, lon, at_s

    def follow(self, echo: Target) -> None:
        """Her AIS is silent, and the radar sees her: she is where her echo is. It is radar
        data now, from an input that may be another; her name and her size stay."""
        if echo.lat is None or echo.lon is None or echo.placed_s is None:
            return
        if self.led_s is None:
            self.led_s = self.placed_s
        self.put_place(echo.lat, echo.lon, echo.placed_s)
        self.put_motion(echo.speed_ms, echo.course_deg)
        self.heading_deg = self.turn_deg_min = self.bent_deg_min = self.bend_s = None
        self.second = self.smoother = None
        self.source, self.reckon_s = echo.source, echo.reckon_s
        self.updates += 1

    def put_motion(self, speed_ms: float | None, course_deg: float | None) -> None:
        """Speed and course over ground; after `put_place`, whose latitude it needs."""
        self.speed_ms, self.course_deg = speed_ms, course_deg
        self.reckoned = None
        self.hull = None
        moves = speed_ms is not None and course_deg is not None and speed_ms >= MAKING_WAY_MS
        self._motion = None if moves else STILL
        self.pace = None if moves and self.lat is not None else STILL

    def put_reckoned(self, east_ms: float, north_ms: float) -> None:
        """Her way by her places; after `put_motion`, which says that she tells none."""
        moves = math.hypot(east_ms, north_ms) >= MAKING_WAY_MS
        self.reckoned = (east_ms, north_ms) if moves else STILL

    def rates(self) -> tuple[float, float]:
        """Degrees of latitude and longitude a second; zeros at rest."""
        rates = self.pace
        if rates is None:
            assert self.lat is not None  # put_motion has seen to it
            east, north = self.motion()
            per_lon, per_lat = metres_per_degree(self.lat)
            rates = (north / per_lat, east / per_lon if per_lon > 1.0 else 0.0)
            self.pace = rates
        return rates

    def motion(self) -> tuple[float, float]:
        """Velocity over ground, m/s east and north, as she tells it or as her places show it;
        zero at rest or when not known."""
        if self.reckoned is not None:
            return self.reckoned
        motion = self._motion
        if motion is None:
            assert self.speed_ms is not None and self.course_deg is not None
            motion = self._motion = velocity(self.speed_ms, self.course_deg)
        return motion

    def place(self) -> LatLon | None:
        """The last reported position, not moved on."""
        if self.lat is None or self.lon is None:
            return None
        return LatLon(self.lat, self.lon)

    def place_at(self, now_s: float) -> LatLon | None:
        """Dead-reckoned to `now_s` along its course, but not beyond the time after which it
        counts as lost; the last report when at rest."""
        if self.lat is None or self.lon is None or self.placed_s is None:
            return None
        lat_rate, lon_rate = self.rates()
        if lat_rate == 0.0 and lon_rate == 0.0:
            return LatLon(self.lat, self.lon)
        run_s = min(now_s - self.placed_s, self.reckon_s)
        return LatLon(self.lat + lat_rate * run_s, wrap_longitude(self.lon + lon_rate * run_s))
