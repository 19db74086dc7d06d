"""The payload of an AIS message: six-bit characters to one integer, and fields out of it.

Field places stand in ais_layouts.py. No library's decoding is used: pyais takes a payload cut
short for wrong numbers, and its conversions turn 'not available' into numbers (91 degrees,
102.3 knots, 127 degrees a minute). Raw integers can be told apart exactly.
"""

from __future__ import annotations

from binascii import Error, a2b_base64, b2a_base64

from .ais_layouts import Layout

# The six-bit armour of AIS is base64 with another alphabet, so the C routine of base64 does
# the packing. Characters outside the armour become '!', which strict base64 refuses.
_BASE64 = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"
_ARMOUR = bytes([*range(48, 88), *range(96, 120)])
_TO_BASE64 = bytes(_BASE64[_ARMOUR.index(c)] if c in _ARMOUR else 0x21 for c in range(256))
_FILL_UP = (b"", b"A", b"AA", b"AAA")
# Six-bit text: 0-31 are '@' to '_', 32-63 are ' ' to '?' (ITU-R M.1371).
_TO_TEXT = bytes(
    (v + 64 if v < 32 else v) for v in (_BASE64.index(c) if c in _BASE64 else 0 for c in range(256))
)

Plan = tuple[tuple[int, int], ...]  # (shift, mask) of each field

# First payload character -> message type; a repeat of the armour, for a look before work.
TYPE_OF = {bytes([c]): value for value, c in enumerate(_ARMOUR)}


def unpack(payload: bytes) -> int | None:
    """All bits as one integer of 6 bits a character; None when a character is not armour."""
    spare = -len(payload) % 4
    try:
        raw = a2b_base64(payload.translate(_TO_BASE64) + _FILL_UP[spare], strict_mode=True)
    except Error:
        return None
    return int.from_bytes(raw, "big") >> 6 * spare


def plan(layout: Layout, *names: str) -> Plan:
    """Where these fields of a message lie in the integer of all its bits."""
    end = sum(layout.values())
    places: dict[str, tuple[int, int]] = {}
    for name, width in layout.items():
        end -= width
        places[name] = (end, (1 << width) - 1)
    return tuple(places[name] for name in names)


def text(value: int, characters: int) -> str | None:
    """Six-bit text, cut at the first '@' (the rest is padding), without blanks at its ends;
    None when nothing is left."""
    spare = -characters % 4
    size = (characters + spare) * 3 // 4
    raw = b2a_base64((value << 6 * spare).to_bytes(size, "big"), newline=False)
    shown = raw.translate(_TO_TEXT)[:characters].decode("ascii")
    return shown.partition("@")[0].strip() or None


def signed(value: int, bits: int) -> int:
    """Two's complement."""
    return value - (1 << bits) if value >> (bits - 1) else value
