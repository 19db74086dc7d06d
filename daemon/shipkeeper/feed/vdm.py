"""VDM and VDO sentences: parts joined, repeats dropped, the payload checked and read."""

from __future__ import annotations

from ..words.observations import Observation
from .ais import MAX_MMSI, MOSTLY_STATIC, TYPES
from .ais_parts import Parts
from .ais_payload import TYPE_OF, unpack
from .repeats import Repeats

MOST_KNOWN = 2048  # static messages kept ready: they are repeated word for word for hours
HIGHEST_TYPE = 28  # later types are not in M.1371-5

Outcome = tuple[str, str, tuple[Observation, ...]]  # verdict, why, observations

_DIGITS = {str(n).encode(): n for n in range(10)}
_FILL = {str(n).encode(): n for n in range(6)}


def _bad(why: str) -> Outcome:
    return "bad", why, ()


_LAYOUT = _bad("not the layout of a VDM")
_EMPTY = _bad("empty payload")
_ALPHABET = _bad("payload with characters outside the six-bit set")
_LENGTH = _bad("payload length does not fit its type")
_TYPE = _bad("no such AIS message type")
_MMSI = _bad("MMSI out of range")
_PARTIAL: Outcome = ("partial", "", ())
_DUPLICATE: Outcome = ("duplicate", "", ())
_UNUSED: Outcome = ("unused", "", ())


class Vdm:
    """All AIS sentences of one daemon, whatever input they come from."""

    __slots__ = ("_known", "_parts", "_repeats")

    def __init__(self) -> None:
        self._parts = Parts()
        self._repeats = Repeats()
        self._known: dict[bytes, tuple[Observation, ...]] = {}

    def read(self, at_s: float, input: str, source: str | None, body: bytes) -> Outcome:  # noqa: A002  # the word for a wire in this house
        """One sentence: all between `!` and `*`, checksum seen to. `source`: of its TAG block."""
        fields = body.split(b",")
        if len(fields) != 7:
            return _LAYOUT
        address, total_, number_, sequence, channel, payload, fill_ = fields
        fill = _FILL.get(fill_)
        if fill is None:
            return _LAYOUT
        if total_ == b"1":
            if number_ != b"1":
                return _LAYOUT
        else:
            total, number = _DIGITS.get(total_, 0), _DIGITS.get(number_, 0)
            if not 0 < number <= total or (fill and number < total) or not payload:
                return _LAYOUT
            key = (input, source, address, sequence, channel, total)
            joined = self._parts.add(key, at_s, number, payload, fill)
            if joined is None:
                return _PARTIAL
            if isinstance(joined, str):
                return _bad(joined)
            payload, fill = joined
        own = address[-1:] == b"O"
        return self._payload(at_s, payload, fill, own)

    def _payload(self, at_s: float, payload: bytes, fill: int, own: bool) -> Outcome:
        kind = TYPE_OF.get(payload[:1])
        if kind is None:
            return _ALPHABET if payload else _EMPTY
        entry = TYPES.get(kind)
        if entry is None:
            return _UNUSED if 0 < kind <= HIGHEST_TYPE else _TYPE
        if not own and self._repeats.heard_before(payload, at_s):
            return _DUPLICATE
        static = kind in MOSTLY_STATIC and not own
        if static:
            known = self._known.get(payload)
            if known is not None:
                return "good", "", known
        reader, full, fewest, most = entry
        width = 6 * len(payload)
        bits = width - fill
        if not fewest <= bits <= most:
            return _LENGTH
        value = unpack(payload)
        if value is None:
            return _ALPHABET
        if width != full:
            value = value << (full - width) if width < full else value >> (width - full)
        if not 0 < value >> (full - 38) & 0x3FFFFFFF <= MAX_MMSI:
            return _MMSI
        facts = reader(value, bits, own)
        if static:
            if len(self._known) >= MOST_KNOWN:
                self._known.clear()
            self._known[payload] = facts
        return "good", "", facts
