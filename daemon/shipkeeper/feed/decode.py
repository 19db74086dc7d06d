"""The door of the feed: one framed line in, what was heard out.

The order of the looks is by price: checksum, then type, and only a type that is used is
taken apart. Nothing in here raises on any text.
"""

from __future__ import annotations

from typing import Literal

import msgspec

from ..words.observations import Observation
from .checksum import HEX, xor8
from .nmea0183 import READERS, Reader, read
from .tagblock import Tag, split_tags
from .vdm import Vdm

Verdict = Literal["good", "unused", "partial", "duplicate", "bad"]

MOST_ADDRESSES = 512


class Heard(msgspec.Struct, frozen=True, gc=False):
    """What one line was.

    verdict: 'good' (read), 'unused' (sound, but of a type that is not used), 'partial' (of
    a message whose other parts lack), 'duplicate' (heard a moment ago by another receiver),
    'bad' (with `why`). kind: 'RMC', 'VDM', a maker's own 'PABC'; '' for what is
    no sentence. source, tag_time_s: of its TAG blocks.
    """

    verdict: Verdict
    kind: str = ""
    talker: str = ""
    observations: tuple[Observation, ...] = ()
    why: str = ""
    source: str | None = None
    tag_time_s: float | None = None


class _Address(msgspec.Struct, frozen=True, gc=False):
    """What is known of a sentence's first field, worked out once."""

    kind: str
    talker: str
    reader: Reader | None
    ais: bool
    unused: Heard


class Decoder:
    """One per daemon: holds the parts of messages and the reports of the last seconds."""

    __slots__ = ("_addresses", "_vdm")

    def __init__(self) -> None:
        self._vdm = Vdm()
        self._addresses: dict[str, _Address] = {}

    def decode(self, at_s: float, input: str, text: str) -> Heard:  # noqa: A002  # the word for a wire in this house
        """One framed line of an input, stamped at_s (s)."""
        if text[:1] != "\\":
            return self._sentence(at_s, input, None, text)
        tag, text = split_tags(text)
        source, tag_time_s = tag.source, tag.time_s
        if not text:
            return _TAG_ALONE if tag != Tag() else _TAG_DAMAGED
        heard = self._sentence(at_s, input, source, text)
        if source is None and tag_time_s is None:
            return heard
        return Heard(
            heard.verdict, heard.kind, heard.talker, heard.observations, heard.why, source,
            tag_time_s,
        )  # fmt: skip

    def _sentence(self, at_s: float, wire: str, source: str | None, text: str) -> Heard:
        if text[:1] not in _STARTS or not text.isascii():
            return _NO_SENTENCE
        # Nearly every address has six characters; the comma tells of the others.
        known = self._addresses.get(text[:6]) if text[6:7] == "," else None
        if known is None:
            comma = text.find(",")
            address = text[:comma] if 0 < comma <= 16 else text[:6]
            known = self._addresses.get(address) or self._address(address)
        given = HEX.get(text[-2:])
        if given is None or text[-3:-2] != "*":
            return Heard("bad", known.kind, known.talker, (), "no checksum")
        raw = text[1:-3].encode("ascii")
        if xor8(raw) != given:
            return Heard("bad", known.kind, known.talker, (), "wrong checksum")
        if known.reader is not None:
            facts = read(known.reader, text[1:-3])
            return Heard("good", known.kind, known.talker, facts)
        if known.ais:
            verdict, why, facts = self._vdm.read(at_s, wire, source, raw)
            return Heard(verdict, known.kind, known.talker, facts, why)  # type: ignore[arg-type]  # Vdm gives one of the verdicts
        return known.unused

    def _address(self, address: str) -> _Address:
        """'$GPRMC' -> what it is. Kept, but not without bound: garbage has addresses too."""
        name = address[1:]
        plain = len(name) == 5 and name.isalnum() and name[0] != "P"
        if plain:
            kind, talker = name[2:], name[:2]
        else:
            # Proprietary by its maker; what is no name at all has no kind.
            kind, talker = name[:4] if name.isalnum() else "", ""
        reader = READERS.get(kind) if plain and address[0] == "$" else None
        ais = plain and address[0] == "!" and kind in ("VDM", "VDO")
        unused = Heard("unused", kind, talker) if kind else _NO_SENTENCE
        known = _Address(kind, talker, reader, ais, unused)
        if len(self._addresses) >= MOST_ADDRESSES:
            self._addresses.clear()
        self._addresses[address] = known
        return known


_STARTS = frozenset("$!")
_NO_SENTENCE = Heard("bad", why="no sentence")
_TAG_ALONE = Heard("unused", "TAG")
_TAG_DAMAGED = Heard("bad", "TAG", why="damaged TAG block")
