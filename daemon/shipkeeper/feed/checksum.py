"""The checksum of a sentence: XOR of its characters (IEC 61162-1; NMEA 0183)."""

from __future__ import annotations

# Two hex digits of either case, by look-up: int(text, 16) would also take ' 5' and '+5'.
HEX = {
    high + low: int(high + low, 16)
    for high in "0123456789ABCDEFabcdef"
    for low in "0123456789ABCDEFabcdef"
}
_LOW_64 = (1 << 64) - 1


def xor8(raw: bytes) -> int:
    """XOR of all bytes. Folded as one big integer, which is half the time of a loop."""
    value = int.from_bytes(raw, "big")
    width = 1024
    while width < len(raw) * 4:
        width *= 2
    while width > 512:  # only for lines far longer than the standard's 82 characters
        value ^= value >> width
        width //= 2
    value ^= value >> 512
    value ^= value >> 256
    value ^= value >> 128
    value ^= value >> 64
    value &= _LOW_64
    value ^= value >> 32
    value ^= value >> 16
    return (value ^ value >> 8) & 0xFF
