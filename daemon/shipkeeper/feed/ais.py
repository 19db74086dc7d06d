"""AIS messages to observations: types 1 2 3 4 5 9 14 18 19 21 24 27 (ITU-R M.1371-5).

Each reader gets the payload as one integer of its type's full length. 'Not available' of
the standard is None here, and so is every value outside its range.
"""

from __future__ import annotations

from collections.abc import Callable

from ..words.observations import AisAid, AisReport, AisStatic, AisText, Observation
from ..words.units import MS_PER_KN
from . import ais_layouts as layouts
from .ais_payload import plan, signed, text

Observations = tuple[Observation, ...]
Reader = Callable[[int, int, bool], Observations]  # value, bits, own

TENTH_KN_MS = MS_PER_KN / 10.0
MAX_MMSI = 999_999_999
_LAT, _LON = 90 * 600_000, 180 * 600_000  # 1/10000 minute
_LAT_27, _LON_27 = 90 * 600, 180 * 600  # 1/10 minute
_FLOATING = range(20, 32)  # kinds of aid that can be off position (M.1371-5, from memory)

_DISTRESS = {970: "sart", 972: "mob", 974: "epirb"}  # ITU-R M.585-9


def station_of(mmsi: int, usual: str) -> str:
    """What sort of station an MMSI says it is; `usual` for ships and all that is no form."""
    if 200_000_000 <= mmsi < 970_000_000:
        return usual
    first_three = mmsi // 1_000_000
    if first_three in _DISTRESS:
        return _DISTRESS[first_three]
    if first_three == 111:
        return "sar"
    if first_three >= 990:
        return "aid"
    if first_three >= 980:
        return "craft"
    if 2_010_000 <= mmsi < 7_760_000:  # 00 and a country code of 201-775
        return "base"
    return usual


def _place(lat: int, lon: int) -> tuple[float, float] | tuple[None, None]:
    # Two's complement of 27 and 28 bits, written out: this is asked of every report.
    if lat & 0x4000000:
        lat -= 0x8000000
    if lon & 0x8000000:
        lon -= 0x10000000
    if -_LAT <= lat <= _LAT and -_LON <= lon <= _LON:
        return lat / 600_000.0, lon / 600_000.0
    return None, None


def _turn(raw: int) -> float | None:
    """Rate of turn, deg/min: (raw / 4.733)^2 with its sign. +-127 has no number, -128 none."""
    turn = signed(raw, 8)
    if not -126 <= turn <= 126:
        return None
    value = (turn / 4.733) ** 2
    return -value if turn < 0 else value


_TURNS = tuple(_turn(raw) for raw in range(256))


_A = plan(
    layouts.CLASS_A, "mmsi", "status", "turn", "speed", "accuracy", "lon", "lat",
    "course", "heading", "second",
)  # fmt: skip


def class_a(value: int, bits: int, own: bool) -> Observations:
    """Types 1, 2, 3: a class A ship under way or at rest; SART, MOB and EPIRB too."""
    mmsi, status, turn, speed, accurate, lon_, lat_, course, heading, second = [
        value >> shift & mask for shift, mask in _A
    ]
    lat, lon = _place(lat_, lon_)
    return (
        AisReport(
            mmsi,
            "A" if 200_000_000 <= mmsi < 970_000_000 else station_of(mmsi, "A"),
            lat,
            lon,
            speed * TENTH_KN_MS if speed < 1023 else None,
            course / 10.0 if course < 3600 else None,
            float(heading) if heading < 360 else None,
            _TURNS[turn],
            status,
            accurate == 1,
            own,
            second if second < 60 else None,
        ),
    )


_B = plan(
    layouts.CLASS_B, "mmsi", "speed", "accuracy", "lon", "lat", "course", "heading",
    "second", "cs",
)  # fmt: skip


def class_b(value: int, bits: int, own: bool) -> Observations:
    """Type 18: a class B report."""
    mmsi, speed, accurate, lon_, lat_, course, heading, second, cs = [
        value >> shift & mask for shift, mask in _B
    ]
    lat, lon = _place(lat_, lon_)
    return (
        AisReport(
            mmsi,
            "B" if 200_000_000 <= mmsi < 970_000_000 else station_of(mmsi, "B"),
            lat,
            lon,
            speed * TENTH_KN_MS if speed < 1023 else None,
            course / 10.0 if course < 3600 else None,
            float(heading) if heading < 360 else None,
            None,
            None,
            accurate == 1,
            own,
            second if second < 60 else None,
            cs == 1,
        ),
    )


_BASE = plan(layouts.BASE, "mmsi", "accuracy", "lon", "lat", "second")


def base(value: int, bits: int, own: bool) -> Observations:
    """Type 4: a base station. Its time is not taken for ours."""
    mmsi, accurate, lon_, lat_, second = [value >> shift & mask for shift, mask in _BASE]
    lat, lon = _place(lat_, lon_)
    second_ = second if second < 60 else None
    return (AisReport(mmsi, "base", lat, lon, accurate=accurate == 1, own=own, second=second_),)


_SAR = plan(layouts.AIRCRAFT, "mmsi", "speed", "accuracy", "lon", "lat", "course", "second")


def aircraft(value: int, bits: int, own: bool) -> Observations:
    """Type 9: an aircraft in search and rescue; speed in whole knots."""
    mmsi, speed, accurate, lon_, lat_, course, second = [
        value >> shift & mask for shift, mask in _SAR
    ]
    lat, lon = _place(lat_, lon_)
    return (
        AisReport(
            mmsi,
            station_of(mmsi, "sar"),
            lat,
            lon,
            speed_ms=speed * MS_PER_KN if speed < 1023 else None,
            course_deg=course / 10.0 if course < 3600 else None,
            accurate=accurate == 1,
            own=own,
            second=second if second < 60 else None,
        ),
    )


_LONG = plan(layouts.LONG_RANGE, "mmsi", "accuracy", "status", "lon", "lat", "speed", "course")


def long_range(value: int, bits: int, own: bool) -> Observations:
    """Type 27: meant for satellites; place to 1/10 minute (185 m), whole knots and degrees."""
    mmsi, accurate, status, lon_, lat_, speed, course = [
        value >> shift & mask for shift, mask in _LONG
    ]
    lat, lon = signed(lat_, 17), signed(lon_, 18)
    known = -_LAT_27 <= lat <= _LAT_27 and -_LON_27 <= lon <= _LON_27
    return (
        AisReport(
            mmsi,
            station_of(mmsi, "long-range"),
            lat / 600.0 if known else None,
            lon / 600.0 if known else None,
            speed_ms=speed * MS_PER_KN if speed < 63 else None,
            course_deg=float(course) if course < 360 else None,
            nav_status=status,
            accurate=accurate == 1,
            own=own,
        ),
    )


_EXTENDED = plan(
    layouts.CLASS_B_EXTENDED, "mmsi", "speed", "accuracy", "lon", "lat", "course", "heading",
    "second", "shipname", "ship_type", "to_bow", "to_stern", "to_port", "to_starboard",
)  # fmt: skip


def class_b_extended(value: int, bits: int, own: bool) -> Observations:
    """Type 19: a class B report with name and size."""
    (
        mmsi, speed, accurate, lon_, lat_, course, heading, second, name, ship_type,
        bow, stern, port, starboard,
    ) = [value >> shift & mask for shift, mask in _EXTENDED]  # fmt: skip
    lat, lon = _place(lat_, lon_)
    station = station_of(mmsi, "B")
    report = AisReport(
        mmsi,
        station,
        lat,
        lon,
        speed_ms=speed * TENTH_KN_MS if speed < 1023 else None,
        course_deg=course / 10.0 if course < 3600 else None,
        heading_deg=float(heading) if heading < 360 else None,
        accurate=accurate == 1,
        own=own,
        second=second if second < 60 else None,
    )
    size = _size(bow, stern, port, starboard)
    return (
        report,
        AisStatic(mmsi, text(name, 20), None, ship_type or None, *size, station, own=own),
    )


Size = tuple[float | None, float | None, float | None, float | None]


def _size(bow: int, stern: int, port: int, starboard: int) -> Size:
    """A, B, C, D in metres. All zero: not known. A and C zero with B and D: only length and
    beam are known, not where the antenna is: then A and C are None and B, D are length and
    beam (M.1371-5, type 5; from memory)."""
    if bow == 0 and port == 0 and stern and starboard:
        return None, float(stern), None, float(starboard)
    length_known, beam_known = bow or stern, port or starboard
    return (
        float(bow) if length_known else None,
        float(stern) if length_known else None,
        float(port) if beam_known else None,
        float(starboard) if beam_known else None,
    )


_STATIC = plan(
    layouts.STATIC, "mmsi", "callsign", "shipname", "ship_type", "to_bow",
    "to_stern", "to_port", "to_starboard",
)  # fmt: skip


def static(value: int, bits: int, own: bool) -> Observations:
    """Type 5: name, call sign, kind and size of a class A ship."""
    mmsi, callsign, name, ship_type, bow, stern, port, starboard = [
        value >> shift & mask for shift, mask in _STATIC
    ]
    size = _size(bow, stern, port, starboard)
    return (
        AisStatic(
            mmsi,
            text(name, 20),
            text(callsign, 7),
            ship_type or None,
            *size,
            station_of(mmsi, "A"),
            own=own,
        ),
    )


_PART = plan(layouts.STATIC_B_NAME, "mmsi", "partno", "shipname")
_PART_B = plan(
    layouts.STATIC_B_SIZE, "ship_type", "callsign", "to_bow", "to_stern", "to_port",
    "to_starboard",
)  # fmt: skip
_CRAFT = plan(layouts.STATIC_B_CRAFT, "mothership_mmsi")


def static_b(value: int, bits: int, own: bool) -> Observations:
    """Type 24: part A is the name; part B kind, call sign and size, or the mother ship of a
    craft (98...), that has no room for a size."""
    mmsi, part, name = [value >> shift & mask for shift, mask in _PART]
    station = station_of(mmsi, "B")
    if part == 0:
        return (AisStatic(mmsi, text(name, 20), station=station, own=own),)
    if part != 1:
        return ()
    ship_type, callsign, bow, stern, port, starboard = [
        value >> shift & mask for shift, mask in _PART_B
    ]
    mother: int | None = None
    size: Size = (None, None, None, None)
    if station == "craft":
        mother = value >> _CRAFT[0][0] & _CRAFT[0][1]
        if not 0 < mother <= MAX_MMSI:
            mother = None
    else:
        size = _size(bow, stern, port, starboard)
    return (
        AisStatic(mmsi, None, text(callsign, 7), ship_type or None, *size, station, mother, own),
    )


_AID = plan(
    layouts.AID, "mmsi", "aid_type", "name", "accuracy", "lon", "lat", "second",
    "off_position", "virtual_aid",
)  # fmt: skip
_AID_BITS = 272  # without the extension of the name


def aid(value: int, bits: int, own: bool) -> Observations:
    """Type 21: an aid to navigation. 'Off position' counts only for a floating aid that has
    a time stamp."""
    mmsi, kind, name_, accurate, lon_, lat_, second, off, virtual = [
        value >> shift & mask for shift, mask in _AID
    ]
    lat, lon = _place(lat_, lon_)
    more = min((bits - _AID_BITS) // 6, 14)
    if more > 0:
        extension = value >> (360 - _AID_BITS - 6 * more) & ((1 << 6 * more) - 1)
        name = text(name_ << 6 * more | extension, 20 + more)
    else:
        name = text(name_, 20)
    floating = second < 60 and kind in _FLOATING
    return (
        AisReport(
            mmsi,
            "aid",
            lat,
            lon,
            accurate=accurate == 1,
            own=own,
            second=second if second < 60 else None,
        ),
        AisAid(mmsi, name or "", off == 1 if floating else None, virtual == 1, kind),
    )


def safety_text(value: int, bits: int, own: bool) -> Observations:
    """Type 14: a safety text to all."""
    mmsi = value >> (1008 - 38) & 0x3FFFFFFF
    length = (bits - 40) // 6
    said = text(value >> (1008 - 40 - 6 * length) & ((1 << 6 * length) - 1), length)
    return () if said is None else (AisText(mmsi, said),)


# type -> (reader, full bits, fewest bits, most bits). Seen on the air (check-values.md 3.4):
# fill bits told wrong, type 5 without its last bits, type 24 with too many characters, type
# 27 stretched to a slot. Fewer bits than the fields need: refused.
TYPES: dict[int, tuple[Reader, int, int, int]] = {
    1: (class_a, 168, 163, 168),
    2: (class_a, 168, 163, 168),
    3: (class_a, 168, 163, 168),
    4: (base, 168, 163, 168),
    5: (static, 424, 420, 426),
    9: (aircraft, 168, 163, 168),
    14: (safety_text, 1008, 46, 1008),
    18: (class_b, 168, 163, 168),
    19: (class_b_extended, 312, 307, 312),
    21: (aid, 360, 272, 368),
    24: (static_b, 168, 160, 174),
    27: (long_range, 96, 96, 168),
}
MOSTLY_STATIC = frozenset({5, 24})
