"""What a small picture of an alert shows: the boat, her mark, the water guarded, who comes.

Numbers only, put into a message when it is raised; drawn later, or never, by whoever can.
"""

from __future__ import annotations

from typing import Literal

import msgspec

Place = tuple[float, float]  # lat, lon in degrees


class Round(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """A circle, or the part of one between two true bearings, clockwise from left to right."""

    what: Literal["reach", "alarm", "zone"]
    centre: Place
    radius_m: float
    left_deg: float | None = None
    right_deg: float | None = None


class Other(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """Whom the alert is about. Speed in m/s, course true."""

    name: str
    place: Place
    course_deg: float | None = None
    speed_ms: float | None = None


class Scene(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """As it was when the alert was raised."""

    vessel: str
    boat: Place
    length_m: float
    heading_deg: float | None = None
    mark: Place | None = None
    rounds: tuple[Round, ...] = ()
    outline: tuple[Place, ...] = ()  # of a zone that is a polygon, or a line
    other: Other | None = None
