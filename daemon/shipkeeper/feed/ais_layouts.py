"""Where the fields of AIS messages lie: name and width in bits of each, in order (ITU-R M.1371-5).

The names are those of pyais' message classes, and tests/unit/feed/test_ais_layouts.py holds every
field to them. Written out here because the library takes six megabytes and a tenth of the start.
"""

from __future__ import annotations

Layout = dict[str, int]

_HEAD = "msg_type 6, repeat 2, mmsi 30, "
_PLACE = "accuracy 1, lon 28, lat 27, "
_HULL = "to_bow 9, to_stern 9, to_port 6, to_starboard 6, "
_PART_B = _HEAD + "partno 2, ship_type 8, vendorid 18, model 4, serial 20, callsign 42, "


def _layout(text: str) -> Layout:
    return {name: int(width) for name, width in (field.split() for field in text.split(","))}


CLASS_A = _layout(
    _HEAD + "status 4, turn 8, speed 10, " + _PLACE + "course 12, heading 9, second 6, "
    "maneuver 2, spare_1 3, raim 1, radio 19"
)
BASE = _layout(
    _HEAD + "year 14, month 4, day 5, hour 5, minute 6, second 6, " + _PLACE + "epfd 4, "
    "spare_1 10, raim 1, radio 19"
)
STATIC = _layout(
    _HEAD + "ais_version 2, imo 30, callsign 42, shipname 120, ship_type 8, " + _HULL + "epfd 4, "
    "month 4, day 5, hour 5, minute 6, draught 8, destination 120, dte 1, spare_1 1"
)
AIRCRAFT = _layout(
    _HEAD + "alt 12, speed 10, " + _PLACE + "course 12, second 6, reserved_1 8, dte 1, "
    "spare_1 3, assigned 1, raim 1, radio 20"
)
CLASS_B = _layout(
    _HEAD + "reserved_1 8, speed 10, " + _PLACE + "course 12, heading 9, second 6, reserved_2 2, "
    "cs 1, display 1, dsc 1, band 1, msg22 1, assigned 1, raim 1, radio 20"
)
CLASS_B_EXTENDED = _layout(
    _HEAD + "reserved_1 8, speed 10, " + _PLACE + "course 12, heading 9, second 6, reserved_2 4, "
    "shipname 120, ship_type 8, " + _HULL + "epfd 4, raim 1, dte 1, assigned 1, spare_1 4"
)
AID = _layout(
    _HEAD + "aid_type 5, name 120, " + _PLACE + _HULL + "epfd 4, second 6, off_position 1, "
    "reserved_1 8, raim 1, virtual_aid 1, assigned 1, spare_1 1, name_ext 88"
)
STATIC_B_NAME = _layout(_HEAD + "partno 2, shipname 120, spare_1 8")
STATIC_B_SIZE = _layout(_PART_B + _HULL + "spare_1 6")
STATIC_B_CRAFT = _layout(_PART_B + "mothership_mmsi 30, spare_1 6")
LONG_RANGE = _layout(
    _HEAD + "accuracy 1, raim 1, status 4, lon 18, lat 17, speed 6, course 9, gnss 1, spare_1 1"
)
