"""Sentences of a GNSS receiver: RMC GGA GLL GNS GSA GST VTG ZDA.

A fix is taken only when the sentence itself calls it valid. Status V, quality 0 and mode N
say 'no fix'. So do estimated (dead reckoning), manual and simulator modes: an estimated
position of a boat at anchor stands still while she drags. (IEC 61162-1 asks for status V
with those modes anyway; from memory.)
"""

from __future__ import annotations

import math

from ..words.observations import (
    FixQuality,
    Observation,
    Position,
    PositionInvalid,
    UtcTime,
    Variation,
    Velocity,
)
from .fields import (
    Fields,
    date,
    ddmmyy,
    degrees,
    latitude,
    layout,
    longitude,
    number,
    second_of_day,
    speed_kn_ms,
    whole,
)

Observations = tuple[Observation, ...]

_NO_FIX_MODES = {
    "N": "no fix",
    "E": "dead reckoning, no fix",
    "M": "manual input, no fix",
    "S": "simulator, no fix",
}
_NO_FIX_QUALITY = {
    "0": ("no fix", "none"),
    "6": ("dead reckoning, no fix", "estimated"),
    "7": ("manual input, no fix", "simulated"),
    "8": ("simulator, no fix", "simulated"),
}
_FIX_KINDS = {"1": "autonomous", "2": "dgps", "3": "autonomous", "4": "rtk", "5": "rtk"}
_NO_PLACE = PositionInvalid("no position in the sentence")
_STATUS_V = PositionInvalid("status V")

_RMC = layout(
    "RMC", "timestamp", "status", "lat", "lat_dir", "lon", "lon_dir", "spd_over_grnd",
    "true_course", "datestamp", "mag_variation", "mag_var_dir", "mode_indicator",
)  # fmt: skip
_GGA = layout(
    "GGA", "timestamp", "lat", "lat_dir", "lon", "lon_dir", "gps_qual", "num_sats",
    "horizontal_dil",
)  # fmt: skip
_GLL = layout("GLL", "lat", "lat_dir", "lon", "lon_dir", "timestamp", "status", "faa_mode")
_GNS = layout(
    "GNS", "timestamp", "lat", "lat_dir", "lon", "lon_dir", "mode_indicator", "num_sats", "hdop"
)
_GSA = layout("GSA", "mode_fix_type", "hdop")
_GST = layout("GST", "std_dev_latitude", "std_dev_longitude", "std_dev_major", "std_dev_minor")
_VTG = layout(
    "VTG", "true_track", "true_track_sym", "spd_over_grnd_kts", "spd_over_grnd_kts_sym",
    "spd_over_grnd_kmph", "spd_over_grnd_kmph_sym", "faa_mode",
)  # fmt: skip
_ZDA = layout("ZDA", "timestamp", "day", "month", "year")


def rmc(fields: Fields) -> Observations:
    """Position, velocity, time with date, magnetic variation."""
    time, status, lat_, ns, lon_, ew, speed_, course, day, var, var_side, mode = _RMC(fields)
    if status != "A":
        return (_STATUS_V if status == "V" else PositionInvalid("no status"),)
    if mode in _NO_FIX_MODES:
        return (PositionInvalid(_NO_FIX_MODES[mode]),)
    facts = _place(lat_, ns, lon_, ew)
    speed = speed_kn_ms(speed_)
    if speed is not None:
        facts.append(Velocity(speed, degrees(course)))
    second = second_of_day(time)
    if second is not None:
        facts.append(UtcTime(second, ddmmyy(day)))
    if var:
        variation = signed_degrees(var, var_side)
        if variation is not None:
            facts.append(Variation(variation))
    return tuple(facts)


def gga(fields: Fields) -> Observations:
    """Position, time of day, quality of the fix."""
    time, lat_, ns, lon_, ew, quality, satellites, hdop_ = _GGA(fields)
    if quality not in _FIX_KINDS:
        why, kind = _NO_FIX_QUALITY.get(quality, ("no quality", "none"))
        return (PositionInvalid(why), FixQuality(fix_kind=kind))
    facts = _place(lat_, ns, lon_, ew)
    facts.append(FixQuality(hdop(hdop_), None, whole(satellites, 0, 99), _FIX_KINDS[quality]))
    second = second_of_day(time)
    if second is not None:
        facts.append(UtcTime(second))
    return tuple(facts)


def gll(fields: Fields) -> Observations:
    """Position and time of day. Without a status (an old form) it says nothing."""
    lat_, ns, lon_, ew, time, status, mode = _GLL(fields)
    if status == "V":
        return (_STATUS_V,)
    if mode in _NO_FIX_MODES:
        return (PositionInvalid(_NO_FIX_MODES[mode]),)
    if status != "A":
        return ()
    facts = _place(lat_, ns, lon_, ew)
    second = second_of_day(time)
    if second is not None:
        facts.append(UtcTime(second))
    return tuple(facts)


def gns(fields: Fields) -> Observations:
    """Position by several systems; valid when any of them has a fix (A D F P R)."""
    time, lat_, ns, lon_, ew, modes, satellites, hdop_ = _GNS(fields)
    if not any(mode in "ADFPR" for mode in modes):
        why = next((_NO_FIX_MODES[mode] for mode in modes if mode in "EMS"), "no fix")
        return (PositionInvalid(why), FixQuality(fix_kind="none"))
    facts = _place(lat_, ns, lon_, ew)
    kind = "rtk" if "R" in modes or "F" in modes else "dgps" if "D" in modes else "autonomous"
    facts.append(FixQuality(hdop(hdop_), None, whole(satellites, 0, 99), kind))
    second = second_of_day(time)
    if second is not None:
        facts.append(UtcTime(second))
    return tuple(facts)


def gsa(fields: Fields) -> Observations:
    """Dilution of precision; 2D or no fix at all."""
    kind, hdop_ = _GSA(fields)
    value = hdop(hdop_)
    fix_kind = {"1": "none", "2": "2d"}.get(kind)
    if value is None and fix_kind is None:
        return ()
    return (FixQuality(hdop=value, fix_kind=fix_kind),)


def gst(fields: Fields) -> Observations:
    """Error estimate as drms = sqrt(sigma_lat^2 + sigma_lon^2), else from the ellipse.

    Receivers fill the two pairs by different rules, so they are not compared.
    """
    lat_, lon_, major_, minor_ = _GST(fields)
    for one_, other_ in ((lat_, lon_), (major_, minor_)):
        one, other = number(one_, 0.0, 1e5), number(other_, 0.0, 1e5)
        if one is not None and other is not None:
            drms = math.hypot(one, other)
            if drms > 0.0:  # no fix is exact: zero means not known
                return (FixQuality(sigma_m=drms),)
    return ()


def vtg(fields: Fields) -> Observations:
    """Velocity. The old form without unit letters is not read: its fields lie elsewhere."""
    course_, true, knots, n, kmh, k, mode = _VTG(fields)
    if mode in _NO_FIX_MODES:
        return ()
    speed = speed_kn_ms(knots) if n == "N" else None
    if speed is None and k == "K":
        value = number(kmh, 0.0, 370.0)
        speed = None if value is None else value / 3.6
    if speed is None:
        return ()
    return (Velocity(speed, degrees(course_) if true == "T" else None),)


def zda(fields: Fields) -> Observations:
    """Time and date."""
    time, day_, month_, year_ = _ZDA(fields)
    second = second_of_day(time)
    if second is None:
        return ()
    day, month, year = whole(day_, 1, 31), whole(month_, 1, 12), whole(year_, 1980, 2199)
    if day is None or month is None or year is None:
        return (UtcTime(second),)
    return (UtcTime(second, date(year, month, day)),)


def _place(lat_: str, ns: str, lon_: str, ew: str) -> list[Observation]:
    lat, lon = latitude(lat_, ns), longitude(lon_, ew)
    if lat is None or lon is None:
        return [_NO_PLACE]
    return [Position(lat, lon)]


def hdop(text: str) -> float | None:
    """Horizontal dilution; 0 is what some receivers say for 'not known'."""
    return number(text, 0.01, 100.0)


def signed_degrees(text: str, side: str) -> float | None:
    """A variation or deviation with E (positive) or W."""
    value = number(text, 0.0, 180.0)
    if value is None or side not in ("E", "W"):
        return None
    return value if side == "E" else -value
