"""Writes NMEA 0183 and AIS sentences: what a receiver, an instrument or a ship would send.

A library for the demo and for tests. Positions are degrees, speeds m/s, times UNIX seconds.
"""

from __future__ import annotations

from datetime import UTC, datetime

from pyais.encode import encode_dict

KNOT_MS = 1852 / 3600

AisFields = dict[str, str | int | float | bytes | bool]


def finish(body: str, start: str = "$") -> str:
    """'GPHDT,274.07,T' -> '$GPHDT,274.07,T*03'."""
    checksum = 0
    for character in body:
        checksum ^= ord(character)
    return f"{start}{body}*{checksum:02X}"


def tagged(sentence: str, source: str, utc_s: float) -> str:
    """In front of a sentence: a TAG block with its source and time in milliseconds."""
    body = f"s:{source},c:{round(utc_s * 1000)}"
    return finish(body, "\\") + "\\" + sentence


def _dm(value: float, width: int, positive: str, negative: str) -> str:
    hundred_thousandths = round(abs(value) * 60 * 100_000)
    degrees, rest = divmod(hundred_thousandths, 60 * 100_000)
    side = positive if value >= 0 else negative
    return f"{degrees:0{width}d}{rest / 100_000:08.5f},{side}"


def _place(lat: float, lon: float) -> str:
    return f"{_dm(lat, 2, 'N', 'S')},{_dm(lon, 3, 'E', 'W')}"


def _clock(utc_s: float) -> str:
    moment = datetime.fromtimestamp(round(utc_s, 2), UTC)
    return moment.strftime("%H%M%S.") + f"{moment.microsecond // 10_000:02d}"


def rmc(
    utc_s: float,
    lat: float | None,
    lon: float | None,
    speed_ms: float | None,
    course_deg: float | None,
) -> str:
    """Position, speed, course and date; status V and empty fields when there is no fix."""
    date = datetime.fromtimestamp(utc_s, UTC).strftime("%d%m%y")
    if lat is None or lon is None:
        return finish(f"GPRMC,{_clock(utc_s)},V,,,,,,,{date},,,N")
    speed = "" if speed_ms is None else f"{speed_ms / KNOT_MS:.2f}"
    course = "" if course_deg is None else f"{course_deg:.1f}"
    return finish(f"GPRMC,{_clock(utc_s)},A,{_place(lat, lon)},{speed},{course},{date},,,A")


def gga(utc_s: float, lat: float | None, lon: float | None, hdop: float | None) -> str:
    """Position with quality and HDOP; quality 0 when there is no fix."""
    if lat is None or lon is None:
        return finish(f"GPGGA,{_clock(utc_s)},,,,,0,00,,,M,,M,,")
    dilution = "" if hdop is None else f"{hdop:.1f}"
    return finish(f"GPGGA,{_clock(utc_s)},{_place(lat, lon)},1,09,{dilution},3.0,M,47.0,M,,")


def hdt(heading_deg: float) -> str:
    return finish(f"HEHDT,{heading_deg % 360:.1f},T")


def mwv(angle_deg: float, speed_ms: float, reference: str = "R") -> str:
    return finish(f"WIMWV,{angle_deg % 360:.1f},{reference},{speed_ms / KNOT_MS:.1f},N,A")


def dpt(below_transducer_m: float, offset_m: float) -> str:
    return finish(f"SDDPT,{below_transducer_m:.2f},{offset_m:.1f},100.0")


def ais_position(
    mmsi: int,
    lat: float,
    lon: float,
    speed_ms: float,
    course_deg: float,
    *,
    heading_deg: float | None = None,
    nav_status: int = 0,
    class_b: bool = False,
    second: int = 60,
    own: bool = False,
) -> list[str]:
    """A dynamic report: type 1, or type 18 for class B; `own`: VDO, from our transponder."""
    data: AisFields = {
        "msg_type": 18 if class_b else 1,
        "mmsi": f"{mmsi:09d}",
        "lat": lat,
        "lon": lon,
        "speed": round(speed_ms / KNOT_MS, 1),
        "course": round(course_deg % 360, 1),
        "heading": 511 if heading_deg is None else round(heading_deg) % 360,
        "second": second,
    }
    if class_b:
        data["cs"] = 1
    else:
        data["status"] = nav_status
    return [
        str(line)
        for line in encode_dict(
            data, talker_id="AI", sentence_type="VDO" if own else "VDM", radio_channel="A"
        )
    ]


def ais_static(
    mmsi: int,
    name: str,
    ship_type: int,
    size_m: tuple[int, int, int, int],
    *,
    class_b: bool = False,
    sequence: int = 1,
) -> list[str]:
    """Name, kind and size (bow, stern, port, starboard): type 5, or both parts of type 24."""
    bow, stern, port, starboard = size_m
    dimensions: AisFields = {
        "to_bow": bow,
        "to_stern": stern,
        "to_port": port,
        "to_starboard": starboard,
    }
    common: AisFields = {"mmsi": f"{mmsi:09d}", "shipname": name, "ship_type": ship_type}
    if not class_b:
        data: AisFields = {"msg_type": 5, **common, **dimensions, "destination": ""}
        lines = encode_dict(
            data, talker_id="AI", sentence_type="VDM", radio_channel="A", seq_id=sequence % 10
        )
        return [str(line) for line in lines]
    part_a: AisFields = {"msg_type": 24, "partno": 0, **common}
    part_b: AisFields = {"msg_type": 24, "partno": 1, **common, **dimensions}
    return _vdm(part_a, "B") + _vdm(part_b, "B")


def _vdm(data: AisFields, channel: str, sequence: int = 1, own: bool = False) -> list[str]:
    kind = "VDO" if own else "VDM"
    lines = encode_dict(
        data, talker_id="AI", sentence_type=kind, radio_channel=channel, seq_id=sequence % 10
    )
    return [str(line) for line in lines]
