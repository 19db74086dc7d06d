"""NMEA 0183 sentences as text: made, checked, and their fields written; for the edges.

A sentence is at most 82 characters with its end (IEC 61162-1). Text in a field is printable
ASCII; reserved characters are written as ^hh, letters beyond ASCII by their nearest.
"""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime

LONGEST = 82  # from the delimiter to CR LF, both counted
_RESERVED = frozenset("$*,!\\^~")


def xor(body: str) -> int:
    """The checksum: every character between delimiter and asterisk."""
    total = 0
    for byte in body.encode("ascii", "replace"):
        total ^= byte
    return total


def sentence(body: str, start: str = "$") -> str:
    """'GPHDT,90.0,T' -> '$GPHDT,90.0,T*0B', without its end."""
    return f"{start}{body}*{xor(body):02X}"


def body_of(line: str) -> str | None:
    """What stands between delimiter and asterisk; None when the checksum lacks or is wrong."""
    line = line.strip()
    start = max(line.rfind("$"), line.rfind("!"))
    text, star, given = line[start + 1 :].partition("*")
    if start < 0 or not star or len(given) != 2 or not text.isascii():
        return None
    try:
        return text if int(given, 16) == xor(text) else None
    except ValueError:
        return None


def escaped(text: str, most: int) -> str:
    """Text as a field of at most that many characters; an escape is never cut in two."""
    out: list[str] = []
    room = most
    for raw in " ".join(text.split()):
        plain = unicodedata.normalize("NFKD", raw).encode("ascii", "ignore").decode() or "?"
        for letter in plain:
            if not 0x20 <= ord(letter) < 0x7F:
                letter = "?"
            piece = f"^{ord(letter):02X}" if letter in _RESERVED else letter
            if len(piece) > room:
                return "".join(out).rstrip()
            out.append(piece)
            room -= len(piece)
    return "".join(out).rstrip()


def unescaped(text: str) -> str:
    """The reverse of `escaped`."""
    head, *rest = text.split("^")
    out = [head]
    for piece in rest:
        try:
            out.append(chr(int(piece[:2], 16)) + piece[2:])
        except ValueError:
            out.append("^" + piece)
    return "".join(out)


def lat_lon(lat: float, lon: float) -> str:
    """'5706.00060,N,00512.00120,W': four fields, to two centimetres."""
    return (
        f"{_angle(lat, 2)},{'N' if lat >= 0 else 'S'},{_angle(lon, 3)},{'E' if lon >= 0 else 'W'}"
    )


def time_field(at: str) -> str:
    """'2026-06-12T02:13:45.000Z' -> '021345.00'; '' for what is no time."""
    try:
        moment = datetime.fromisoformat(at)
    except ValueError:
        return ""
    if moment.tzinfo is not None:
        moment = moment.astimezone(UTC)
    return moment.strftime("%H%M%S") + f".{moment.microsecond // 10_000:02d}"


def _angle(value: float, width: int) -> str:
    hundred_thousandths = round(abs(value) * 60 * 100_000)
    degrees, rest = divmod(hundred_thousandths, 60 * 100_000)
    return f"{degrees:0{width}d}{rest / 100_000:08.5f}"
