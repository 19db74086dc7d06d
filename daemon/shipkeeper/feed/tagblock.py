r"""TAG blocks, `\s:gnss,c:1781234567890*hh\`, read and made (NMEA 0183 4.x, IEC 61162-450).

Keys: s source, d destination, c UNIX time in seconds or milliseconds, g group (part, total,
group number), n line count, t text, r relative time. A block that is damaged says nothing;
the sentence behind it stands on its own checksum.
"""

from __future__ import annotations

import re

import msgspec

from .checksum import HEX, xor8

MS_ABOVE = 1e11  # a UNIX time above this is in milliseconds (check-values.md 4.3)

_BLOCK = re.compile(r"\\([^\\]*)\*([0-9A-Fa-f]{2})\\").match
_TIME = re.compile(r"[0-9]{1,15}(?:\.[0-9]{1,9})?").fullmatch
_GROUP = re.compile(r"([0-9]{1,4})-([0-9]{1,4})-([0-9]{1,9})").fullmatch
_ESCAPED = re.compile(r"\^([0-9A-Fa-f]{2})")
_PLAIN = frozenset(b"abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789 _-.+/:@#()")


class Tag(msgspec.Struct, frozen=True, gc=False):
    """One TAG block. time_s: UNIX seconds; what is absent or damaged is None."""

    source: str | None = None
    time_s: float | None = None
    destination: str | None = None
    group: tuple[int, int, int] | None = None
    line: int | None = None
    text: str | None = None
    relative: int | None = None


def split_tag(text: str) -> tuple[Tag | None, str]:
    """The first TAG block and all that follows it; (None, text) when there is none.

    Only the first: in a recording that is the recorder's own, and what the device sent,
    its TAG blocks too, must stay as it came.
    """
    if text[:1] != "\\":
        return None, text
    match = _BLOCK(text)
    if match is None or not match.group(1).isascii():
        return None, text
    body, given = match.groups()
    if xor8(body.encode("ascii")) != HEX[given]:
        return None, text
    return _read(body), text[match.end() :]


def split_tags(text: str) -> tuple[Tag, str]:
    """All TAG blocks in front, joined (the first to name a thing counts), and the sentence.

    A damaged block is passed over.
    """
    joined = Tag()
    while text[:1] == "\\":
        match = _BLOCK(text)
        if match is None:
            break
        tag, _ = split_tag(text)
        text = text[match.end() :]
        if tag is not None:
            joined = tag if joined == _NOTHING else _join(joined, tag)
    return joined, text


def make_tag(source: str, at_s: float) -> str:
    """The recorder's block: source and time in milliseconds.

    A computer that booted in 1970 has so few milliseconds that they would be read as
    seconds: then it is seconds with a decimal point, that are taken for nothing else.
    """
    ms = round(at_s * 1000)
    body = f"s:{_escape(source)},c:{ms if ms > MS_ABOVE else f'{ms / 1000:.3f}'}"
    return f"\\{body}*{xor8(body.encode('ascii')):02X}\\"


_NOTHING = Tag()


def _join(first: Tag, second: Tag) -> Tag:
    return Tag(
        *(
            one if one is not None else other
            for one, other in zip(
                msgspec.structs.astuple(first), msgspec.structs.astuple(second), strict=True
            )
        )
    )


def _read(body: str) -> Tag:
    said: dict[str, str] = {}
    for part in body.split(","):
        key, colon, value = part.partition(":")
        if colon and value:
            said.setdefault(key, value)
    group = _GROUP(said.get("g", ""))
    return Tag(
        source=_text(said.get("s")),
        time_s=_unix_s(said.get("c", "")),
        destination=_text(said.get("d")),
        group=(int(group[1]), int(group[2]), int(group[3])) if group else None,
        line=_count(said.get("n", "")),
        text=_text(said.get("t")),
        relative=_count(said.get("r", "")),
    )


def _unix_s(text: str) -> float | None:
    if not _TIME(text):
        return None
    value = float(text)
    return value / 1000.0 if value > MS_ABOVE and "." not in text else value


def _count(text: str) -> int | None:
    return int(text) if text.isdigit() and len(text) <= 9 else None


def _text(text: str | None) -> str | None:
    if text is None or "^" not in text:
        return text
    try:
        raw = _ESCAPED.sub(lambda match: chr(int(match[1], 16)), text)
        return raw.encode("latin-1").decode("utf-8")
    except UnicodeDecodeError:
        return text


def _escape(text: str) -> str:
    """Names from the orders may hold commas or umlauts: written as ^hh, read back the same."""
    raw = text.encode("utf-8", "replace")
    return "".join(chr(c) if c in _PLAIN else f"^{c:02X}" for c in raw)
