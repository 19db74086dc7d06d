"""Values of the Signal K format as sentences: own ship, AIS vessels, radar echoes.

SI and radians go in; nothing is made up, and a value out of range is none. A vessel with an
MMSI becomes AIS reports (encoded by pyais), one without is an echo told by its place (TLL).
"""

from __future__ import annotations

import math
import re
from collections import OrderedDict
from datetime import UTC, datetime
from typing import Any

import msgspec

from ..words.delta import SELF, Value
from ..words.sentence import escaped, lat_lon, sentence

MS_PER_KN = 1852.0 / 3600.0
TOGETHER_S = 5.0  # speed and course of one moment, at most so far apart
MOST_VESSELS = 2000
MOST_ECHOES = 99  # TLL numbers are 00 to 99
STATIC_EVERY = 20  # position reports between two of name and size
_MMSI = re.compile(r"(?:mmsi:|^vessels\.)(\d{9})$")
_NO_FIX = ("no GPS", "Error", "Simulator mode", "Manual input", "Estimated (DR) mode")
_STATUS = {
    "motoring": 0, "anchored": 1, "not under command": 2, "restricted maneuverability": 3,
    "constrained by draft": 4, "moored": 5, "aground": 6, "fishing": 7, "sailing": 8,
}  # fmt: skip


class Vessel(msgspec.Struct):
    """What is known of another vessel; a position sends it."""

    mmsi: int | None
    number: int = 0  # of an echo
    name: str = ""
    callsign: str = ""
    kind: int = 0
    length_m: float | None = None
    beam_m: float | None = None
    from_bow_m: float | None = None
    from_center_m: float | None = None
    class_b: bool = False
    status: int = 15
    speed: tuple[float, float] | None = None  # (value, stamp)
    course: tuple[float, float] | None = None
    heading: tuple[float, float] | None = None
    sent: int = 0


class Sentences:
    """Remembers only what is said in parts."""

    def __init__(self) -> None:
        self._own: dict[str, tuple[Any, float]] = {}
        self._vessels: OrderedDict[str, Vessel] = OrderedDict()
        self._numbers = 0

    def of(self, value: Value) -> list[str]:
        """The sentences that this value makes, with what came shortly before it."""
        if value.context == SELF:
            return self._of_own(value)
        if not value.context.startswith("vessels."):
            return []
        return self._of_vessel(value)

    # -- own ship ------------------------------------------------------------------------------

    def _of_own(self, value: Value) -> list[str]:
        path, given, stamp_s = value.path, value.value, value.stamp_s or 0.0
        self._own[path] = (given, stamp_s)
        group, _, leaf = path.rpartition(".")
        if path == "navigation.position":
            return self._position(given)
        if path == "navigation.gnss.methodQuality":
            return [sentence("IIGLL,,,,,,V,N")] if given in _NO_FIX else []
        if path == "navigation.gnss.horizontalDilution":
            dilution = _number(given, 0.01, 100.0)
            return [] if dilution is None else [sentence(f"IIGSA,A,3{',' * 14}{dilution:.1f},")]
        if path == "navigation.datetime":
            return _zda(given)
        if path == "navigation.speedOverGround":
            return self._velocity(stamp_s)
        if path == "navigation.headingTrue":
            heading = _degrees(given)
            return [] if heading is None else [sentence(f"IIHDT,{heading:.1f},T")]
        if path == "navigation.headingMagnetic":
            return self._magnetic(given, stamp_s)
        if group == "environment.depth":
            return self._depth(leaf, given, stamp_s)
        if group == "environment.wind" and leaf.startswith("speed"):
            return self._wind(leaf, given, stamp_s)
        return []

    def _position(self, given: Any) -> list[str]:
        place = _place(given)
        method = self._own.get("navigation.gnss.methodQuality", ("", 0.0))[0]
        if place is None or method in _NO_FIX:
            return [sentence("IIGLL,,,,,,V,N")]
        return [sentence(f"IIGLL,{lat_lon(*place)},,A,A")]

    def _velocity(self, stamp_s: float) -> list[str]:
        speed = _number(self._own["navigation.speedOverGround"][0], 0.0, 100.0)
        if speed is None:
            return []
        course = _degrees(self._near("navigation.courseOverGroundTrue", stamp_s))
        told = "" if course is None else f"{course:.1f}"
        return [sentence(f"IIVTG,{told},T,,M,{speed / MS_PER_KN:.2f},N,,K,A")]

    def _magnetic(self, given: Any, stamp_s: float) -> list[str]:
        heading = _degrees(given)
        if heading is None:
            return []
        # The variation of a place changes in months: an old one is as good.
        variation = _number(
            self._own.get("navigation.magneticVariation", (None, 0))[0], -math.pi, math.pi
        )
        if variation is None:
            return [sentence(f"IIHDM,{heading:.1f},M")]
        east = "E" if variation >= 0 else "W"
        return [sentence(f"IIHDG,{heading:.1f},,,{abs(math.degrees(variation)):.1f},{east}")]

    def _depth(self, leaf: str, given: Any, stamp_s: float) -> list[str]:
        """Below the transducer, or reckoned back to it; else it would be another depth."""
        depth = _number(given, 0.0, 12_000.0)
        keel = _number(self._own.get("environment.depth.transducerToKeel", (None, 0))[0], 0.0, 50.0)
        top = _number(
            self._own.get("environment.depth.surfaceToTransducer", (None, 0))[0], 0.0, 50.0
        )
        if depth is None:
            return []
        below = {
            "belowTransducer": depth,
            "belowKeel": None if keel is None else depth + keel,
            "belowSurface": None if top is None or depth < top else depth - top,
        }.get(leaf)
        direct = leaf == "belowTransducer"
        if below is None or (not direct and self._near(
            "environment.depth.belowTransducer", stamp_s) is not None):  # fmt: skip
            return []
        offset = f"{top:.2f}" if top is not None else f"{-keel:.2f}" if keel is not None else ""
        return [sentence(f"IIDPT,{below:.2f},{offset}")]

    def _wind(self, leaf: str, given: Any, stamp_s: float) -> list[str]:
        speed = _number(given, 0.0, 150.0)
        pair = {
            "speedApparent": ("angleApparent", "R"),
            "speedTrue": ("angleTrueWater", "T"),
            "speedOverGround": ("directionTrue", ""),
        }.get(leaf)
        if speed is None or pair is None:
            return []
        angle = _degrees(self._near(f"environment.wind.{pair[0]}", stamp_s))
        told = "" if angle is None else f"{angle:.1f}"
        if pair[1]:
            return [sentence(f"IIMWV,{told},{pair[1]},{speed:.2f},M,A")]
        return [sentence(f"IIMWD,{told},T,,M,,N,{speed:.2f},M")]

    def _near(self, path: str, stamp_s: float) -> Any:
        given, at_s = self._own.get(path, (None, float("-inf")))
        return given if abs(stamp_s - at_s) <= TOGETHER_S else None

    # -- others --------------------------------------------------------------------------------

    def _of_vessel(self, value: Value) -> list[str]:
        vessel = self._vessel(value.context)
        path, given, stamp_s = value.path, value.value, value.stamp_s or 0.0
        if path == "" and isinstance(given, dict):
            self._static(vessel, given)
        elif path in ("name", "communication", "mmsi"):
            self._static(vessel, {path: given})
        elif path == "communication.callsignVhf" and isinstance(given, str):
            vessel.callsign = given
        elif path == "design.length" and isinstance(given, dict):
            vessel.length_m = _number(given.get("overall"), 0.0, 600.0)
        elif path == "design.beam":
            vessel.beam_m = _number(given, 0.0, 120.0)
        elif path == "design.aisShipType" and isinstance(given, dict):
            kind = _number(given.get("id"), 0, 99)
            vessel.kind = 0 if kind is None else int(kind)
        elif path == "sensors.ais.fromBow":
            vessel.from_bow_m = _number(given, 0.0, 600.0)
        elif path == "sensors.ais.fromCenter":
            vessel.from_center_m = _number(given, -60.0, 60.0)
        elif path == "sensors.ais.class":
            vessel.class_b = given == "B"
        elif path == "navigation.state":
            vessel.status = _STATUS.get(str(given), 15)
        elif path == "navigation.speedOverGround":
            vessel.speed = _kept(_number(given, 0.0, 52.0), stamp_s)
        elif path == "navigation.courseOverGroundTrue":
            vessel.course = _kept(_degrees(given), stamp_s)
        elif path == "navigation.headingTrue":
            vessel.heading = _kept(_degrees(given), stamp_s)
        elif path == "navigation.position":
            place = _place(given)
            return [] if place is None else self._report(vessel, place, stamp_s)
        return []

    def _vessel(self, context: str) -> Vessel:
        vessel = self._vessels.get(context)
        if vessel is None:
            found = _MMSI.search(context)
            vessel = Vessel(mmsi=int(found[1]) if found else None)
            if vessel.mmsi is None:
                vessel.number = self._numbers
                self._numbers = (self._numbers + 1) % (MOST_ECHOES + 1)
            self._vessels[context] = vessel
            if len(self._vessels) > MOST_VESSELS:
                self._vessels.popitem(last=False)
        self._vessels.move_to_end(context)
        return vessel

    @staticmethod
    def _static(vessel: Vessel, given: dict[str, Any]) -> None:
        if isinstance(given.get("name"), str):
            vessel.name = given["name"]
        talk = given.get("communication")
        if isinstance(talk, dict) and isinstance(talk.get("callsignVhf"), str):
            vessel.callsign = talk["callsignVhf"]
        mmsi = given.get("mmsi")
        if isinstance(mmsi, str) and re.fullmatch(r"\d{9}", mmsi):
            vessel.mmsi = int(mmsi)

    def _report(self, vessel: Vessel, place: tuple[float, float], stamp_s: float) -> list[str]:
        if vessel.mmsi is None:
            name = escaped(vessel.name, 16)
            return [sentence(f"RATLL,{vessel.number:02d},{lat_lon(*place)},{name},,T,")]
        out = _dynamic(vessel, place, stamp_s)
        if vessel.sent % STATIC_EVERY == 0:
            out += _static_report(vessel)
        vessel.sent += 1
        return out


def _dynamic(vessel: Vessel, place: tuple[float, float], stamp_s: float) -> list[str]:
    speed, course = _fresh(vessel.speed, stamp_s), _fresh(vessel.course, stamp_s)
    heading = _fresh(vessel.heading, stamp_s)
    fields: dict[str, Any] = {
        "type": 18 if vessel.class_b else 1,
        "mmsi": vessel.mmsi,
        "lat": place[0],
        "lon": place[1],
        # The values that AIS has for 'not available' (ITU-R M.1371).
        "speed": 102.3 if speed is None else round(speed / MS_PER_KN, 1),
        "course": 360.0 if course is None else round(course, 1) % 360.0,
        "heading": 511 if heading is None else round(heading) % 360,
        "second": int(stamp_s) % 60,
    }
    if not vessel.class_b:
        fields.update(status=vessel.status, turn=-128)
    return _encoded(fields)


def _static_report(vessel: Vessel) -> list[str]:
    fields: dict[str, Any] = {"mmsi": vessel.mmsi, "callsign": _six_bit(vessel.callsign, 7)}
    fields.update(ship_type=vessel.kind, **_arms(vessel))
    name = _six_bit(vessel.name, 20)
    if not vessel.class_b:
        return _encoded({"type": 5, "shipname": name, **fields})
    named = {"type": 24, "partno": 0, "mmsi": vessel.mmsi, "shipname": name}
    return _encoded(named) + _encoded({"type": 24, "partno": 1, **fields})


def _arms(vessel: Vessel) -> dict[str, int]:
    """From the antenna to each side; zeros where nobody knows."""
    length, beam, bow = vessel.length_m, vessel.beam_m, vessel.from_bow_m
    if length is None or beam is None:
        return {"to_bow": 0, "to_stern": 0, "to_port": 0, "to_starboard": 0}
    centre = vessel.from_center_m
    if bow is None or centre is None or bow > length or abs(centre) > beam / 2:
        # Size without the antenna's place: A and C zero (ITU-R M.1371).
        return {
            "to_bow": 0, "to_stern": min(511, round(length)),
            "to_port": 0, "to_starboard": min(63, round(beam)),
        }  # fmt: skip
    return {
        "to_bow": min(511, round(bow)),
        "to_stern": min(511, round(length - bow)),
        "to_port": min(63, round(beam / 2 + centre)),
        "to_starboard": min(63, round(beam / 2 - centre)),
    }


def _encoded(fields: dict[str, Any]) -> list[str]:
    from pyais import encode_dict

    try:
        return list(encode_dict(fields, talker_id="AI", radio_channel="A"))
    except (ValueError, TypeError, KeyError, OverflowError):
        return []


def _six_bit(text: str, most: int) -> str:
    """AIS letters alone; a character that it has not becomes '?'."""
    return "".join(c if " " <= c <= "_" else "?" for c in text.upper()[:most]).strip()


def _kept(value: float | None, stamp_s: float) -> tuple[float, float] | None:
    return None if value is None else (value, stamp_s)


def _fresh(kept: tuple[float, float] | None, stamp_s: float) -> float | None:
    """Of the same report as the position: AIS tells all at once."""
    return kept[0] if kept is not None and abs(stamp_s - kept[1]) <= TOGETHER_S else None


def _number(value: Any, low: float, high: float) -> float | None:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        return None
    return float(value) if low <= value <= high else None


def _degrees(value: Any) -> float | None:
    radians = _number(value, -2 * math.pi, 2 * math.pi + 1e-6)
    return None if radians is None else math.degrees(radians) % 360.0


def _place(value: Any) -> tuple[float, float] | None:
    if not isinstance(value, dict):
        return None
    lat, lon = _number(value.get("latitude"), -90, 90), _number(value.get("longitude"), -180, 180)
    return None if lat is None or lon is None else (lat, lon)


def _zda(value: Any) -> list[str]:
    try:
        moment = datetime.fromisoformat(str(value)).astimezone(UTC)
    except ValueError:
        return []
    return [sentence(moment.strftime("IIZDA,%H%M%S.00,%d,%m,%Y,00,00"))]
