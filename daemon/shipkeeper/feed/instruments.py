"""Sentences of the boat's instruments: HDT HDG HDM THS DPT DBT MWV MWD VHW XDR."""

from __future__ import annotations

from operator import itemgetter

from ..words.observations import (
    Depth,
    Heading,
    Measurement,
    Observation,
    Variation,
    WaterSpeed,
    Wind,
)
from ..words.units import M_PER_FT, MS_PER_KN
from .fields import PAD, Fields, degrees, layout, number, speed_ms
from .position import signed_degrees

Observations = tuple[Observation, ...]

DEEPEST_M = 12_000.0  # no water is deeper
MAX_MEASUREMENTS = 32

_HDT = layout("HDT", "heading", "hdg_true")
_HDM = layout("HDM", "heading", "magnetic")
_HDG = layout("HDG", "heading", "deviation", "dev_dir", "variation", "var_dir")
_THS = itemgetter(1, 2)  # heading, mode (IEC 61162-1, from memory); pynmea2 has no THS
_DPT = layout("DPT", "depth", "offset")
_DBT = layout(
    "DBT", "depth_meters", "unit_meters", "depth_feet", "unit_feet", "depth_fathoms",
    "unit_fathoms",
)  # fmt: skip
_MWV = layout("MWV", "wind_angle", "reference", "wind_speed", "wind_speed_units", "status")
_MWD = layout(
    "MWD", "direction_true", "true", "wind_speed_knots", "knots", "wind_speed_meters", "meters"
)
_VHW = layout(
    "VHW", "heading_true", "true", "heading_magnetic", "magnetic", "water_speed_knots",
    "knots", "water_speed_km", "kilometers",
)  # fmt: skip


def hdt(fields: Fields) -> Observations:
    """True heading."""
    heading_, true = _HDT(fields)
    heading = degrees(heading_) if true == "T" else None
    return () if heading is None else (Heading(heading),)


def hdm(fields: Fields) -> Observations:
    """Magnetic heading (an old sentence that compasses still send)."""
    heading_, magnetic = _HDM(fields)
    heading = degrees(heading_) if magnetic == "M" else None
    return () if heading is None else (Heading(heading, magnetic=True),)


def ths(fields: Fields) -> Observations:
    """True heading with its mode: autonomous or estimated is taken, else it says nothing."""
    heading_, mode = _THS(fields)
    heading = degrees(heading_) if mode in ("A", "E") else None
    return () if heading is None else (Heading(heading),)


def hdg(fields: Fields) -> Observations:
    """Sensor heading + deviation + variation, east positive: true; else magnetic.

    A deviation that cannot be read spoils the heading; none at all means it is corrected.
    """
    sensor_, deviation_, dev_side, variation_, var_side = _HDG(fields)
    sensor = degrees(sensor_)
    variation = signed_degrees(variation_, var_side)
    facts: list[Observation] = []
    deviation = signed_degrees(deviation_, dev_side) if deviation_ else 0.0
    if sensor is not None and deviation is not None:
        magnetic = (sensor + deviation) % 360.0
        if variation is None:
            facts.append(Heading(magnetic, magnetic=True))
        else:
            facts.append(Heading((magnetic + variation) % 360.0))
    if variation is not None:
        facts.append(Variation(variation))
    return tuple(facts)


def dpt(fields: Fields) -> Observations:
    """Depth below the transducer, and the sounder's own offset."""
    depth_, offset = _DPT(fields)
    depth = number(depth_, 0.0, DEEPEST_M)
    return () if depth is None else (Depth(depth, number(offset, -100.0, 100.0)),)


def dbt(fields: Fields) -> Observations:
    """Depth below the transducer: metres, else feet, else fathoms."""
    metres, m, feet, f, fathoms, fathom = _DBT(fields)
    for text, unit, letter, factor in (
        (metres, m, "M", 1.0),
        (feet, f, "f", M_PER_FT),
        (fathoms, fathom, "F", 6 * M_PER_FT),
    ):
        if unit == letter:
            value = number(text, 0.0, DEEPEST_M / factor)
            if value is not None:
                return (Depth(value * factor),)
    return ()


def mwv(fields: Fields) -> Observations:
    """Wind against the bow: apparent (R) or true (T)."""
    angle, reference, speed_, unit, status = _MWV(fields)
    speed = speed_ms(speed_, unit) if status == "A" else None
    if speed is None or reference not in ("R", "T"):
        return ()
    return (Wind(speed, degrees(angle), "apparent" if reference == "R" else "true"),)


def mwd(fields: Fields) -> Observations:
    """Wind against north, as it blows over the ground."""
    direction, true, knots, n, metres, m = _MWD(fields)
    speed = speed_ms(metres, "M") if m == "M" else None
    if speed is None and n == "N":
        speed = speed_ms(knots, "N")
    if speed is None:
        return ()
    return (Wind(speed, degrees(direction) if true == "T" else None, "north"),)


def vhw(fields: Fields) -> Observations:
    """Speed through the water, and the heading the log was given."""
    heading_, true, magnetic_, m, knots, n, kmh, k = _VHW(fields)
    facts: list[Observation] = []
    heading = degrees(heading_) if true == "T" else None
    if heading is not None:
        facts.append(Heading(heading))
    magnetic = degrees(magnetic_) if m == "M" else None
    if magnetic is not None:
        facts.append(Heading(magnetic, magnetic=True))
    speed = number(knots, -50.0, 200.0) if n == "N" else None
    if speed is not None:
        facts.append(WaterSpeed(speed * MS_PER_KN))
    elif k == "K" and (value := number(kmh, -90.0, 370.0)) is not None:
        facts.append(WaterSpeed(value / 3.6))
    return tuple(facts)


def xdr(fields: Fields) -> Observations:
    """Transducer measurements in fours: kind, value, unit, name. One without a name is
    nothing that orders could speak of."""
    facts: list[Observation] = []
    last = min(len(fields) - len(PAD), 1 + 4 * MAX_MEASUREMENTS)
    for place in range(1, last, 4):
        kind, value_, unit, name = fields[place : place + 4]
        value = number(value_, -1e8, 1e8)
        if value is not None and name:
            facts.append(Measurement(name, kind, value, unit))
    return tuple(facts)
