"""Observations: what one sentence says, each a measured fact in SI units.

An observation carries no stamp and no source: those belong to the line it came in, and
the picture joins them. A field that the sender left empty, or sent out of range, is None
here and never zero. Degrees are true unless the name says otherwise.
"""

from __future__ import annotations

from typing import Literal

import msgspec


class _Fact(msgspec.Struct, frozen=True, gc=False):
    """Base of all observations: immutable, compared by value."""


class Position(_Fact, frozen=True, gc=False):
    """A valid fix of the GNSS antenna."""

    lat: float
    lon: float


class PositionInvalid(_Fact, frozen=True, gc=False):
    """The receiver itself says that it has no valid fix (status V, quality 0, mode N)."""

    why: str


class Velocity(_Fact, frozen=True, gc=False):
    """Speed over ground, and course where the receiver gives one (not at rest)."""

    speed_ms: float
    course_deg: float | None


class FixQuality(_Fact, frozen=True, gc=False):
    """How good the fix is, as far as the sentence says."""

    hdop: float | None = None
    sigma_m: float | None = None  # 1-sigma horizontal (drms) from GST
    satellites: int | None = None
    # 'none' '2d' 'autonomous' 'dgps' 'rtk' 'estimated' 'simulated'
    fix_kind: str | None = None


class UtcTime(_Fact, frozen=True, gc=False):
    """Time from the receiver: a time of day, with its date where the sentence has one."""

    second_of_day: float
    date: tuple[int, int, int] | None = None  # year, month, day


class Heading(_Fact, frozen=True, gc=False):
    """The way the bow points; magnetic when no variation was at hand."""

    heading_deg: float
    magnetic: bool = False


class Variation(_Fact, frozen=True, gc=False):
    """Magnetic variation, east positive."""

    variation_deg: float


class Depth(_Fact, frozen=True, gc=False):
    """Water under the transducer; offset + to the waterline, - to the keel (DPT)."""

    below_transducer_m: float
    offset_m: float | None = None


class Wind(_Fact, frozen=True, gc=False):
    """One wind reading. frame: 'apparent' or 'true' (angle from the bow), 'north' (true
    direction that it blows from; ground wind)."""

    speed_ms: float
    angle_deg: float | None
    frame: Literal["apparent", "true", "north"]


class WaterSpeed(_Fact, frozen=True, gc=False):
    """Speed through the water along the bow."""

    speed_ms: float


class Measurement(_Fact, frozen=True, gc=False):
    """A named transducer measurement (XDR): value in the sender's unit letter."""

    name: str
    kind: str
    value: float
    unit: str


class RadarEcho(_Fact, frozen=True, gc=False):
    """A tracked radar target (TTM/TTD). Angles relative to the bow where flagged so.
    status: 'tracking', 'acquiring', 'lost'."""

    number: int
    range_m: float | None
    bearing_deg: float | None
    bearing_relative: bool
    speed_ms: float | None
    course_deg: float | None
    course_relative: bool
    status: Literal["tracking", "acquiring", "lost"]
    name: str = ""
    reference: bool = False


class RadarPlace(_Fact, frozen=True, gc=False):
    """A radar target by latitude and longitude (TLL)."""

    number: int
    lat: float
    lon: float
    status: Literal["tracking", "acquiring", "lost"]
    name: str = ""
    reference: bool = False


class AisReport(_Fact, frozen=True, gc=False):
    """A dynamic AIS report. own: heard as VDO, from our own transponder.
    station: 'A' 'B' 'base' 'aid' 'sar' (aircraft) 'sart' 'mob' 'epirb' 'long-range' 'craft'
    (a tender of a parent ship)."""

    mmsi: int
    station: str
    lat: float | None
    lon: float | None
    speed_ms: float | None = None
    course_deg: float | None = None
    heading_deg: float | None = None
    turn_deg_min: float | None = None
    nav_status: int | None = None
    accurate: bool | None = None
    own: bool = False
    second: int | None = None  # UTC second of the report, 0-59
    carrier_sense: bool | None = None  # class B: True CS, False SO


class AisStatic(_Fact, frozen=True, gc=False):
    """Name, kind and size. Dimensions A, B, C, D in metres from the antenna; None unknown.
    A and C None with B and D given: length B and beam D, but nobody knows where the antenna
    is."""

    mmsi: int
    name: str | None = None
    callsign: str | None = None
    ship_type: int | None = None
    to_bow_m: float | None = None
    to_stern_m: float | None = None
    to_port_m: float | None = None
    to_starboard_m: float | None = None
    station: str | None = None
    mothership: int | None = None
    own: bool = False


class AisAid(_Fact, frozen=True, gc=False):
    """An aid to navigation's own words: off position, virtual."""

    mmsi: int
    name: str
    off_position: bool | None
    virtual: bool
    aid_type: int


class AisText(_Fact, frozen=True, gc=False):
    """A safety-related broadcast text (type 14)."""

    mmsi: int
    text: str


class ReceiverText(_Fact, frozen=True, gc=False):
    """A device's own message (TXT)."""

    text: str


class AlertCommand(_Fact, frozen=True, gc=False):
    """ACN or ACK from the boat's own equipment. command: 'acknowledge' 'silence'
    'transfer' 'request'. maker: the maker's code, empty for identifiers of the standard."""

    identifier: int
    instance: int | None
    command: Literal["acknowledge", "silence", "transfer", "request"]
    maker: str = ""


Observation = (
    Position
    | PositionInvalid
    | Velocity
    | FixQuality
    | UtcTime
    | Heading
    | Variation
    | Depth
    | Wind
    | WaterSpeed
    | Measurement
    | RadarEcho
    | RadarPlace
    | AisReport
    | AisStatic
    | AisAid
    | AisText
    | ReceiverText
    | AlertCommand
)
