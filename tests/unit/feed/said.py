"""Helpers: sentences with their checksum, and one case fed in every way a wire may bring it."""

from __future__ import annotations

from typing import Any

import pytest

from shipkeeper.feed.decode import Decoder, Heard
from shipkeeper.feed.framing import Framer
from shipkeeper.words.observations import Observation


def checksum(body: str) -> str:
    """XOR by the book, character by character: not the code under test."""
    value = 0
    for character in body:
        value ^= ord(character)
    return f"{value:02X}"


def sentence(body: str, start: str = "$") -> str:
    return f"{start}{body}*{checksum(body)}"


def heard(text: str, at_s: float = 100.0) -> Heard:
    return Decoder().decode(at_s, "wire", text)


def said(body: str, start: str = "$") -> tuple[Observation, ...]:
    """What one sound sentence says."""
    one = heard(sentence(body, start))
    assert one.verdict == "good", one
    return one.observations


def every_way(data: bytes) -> list[str]:
    """Lines of `data`: whole, byte by byte, in odd shards and with trailing data alike."""
    whole = Framer().feed(data)
    framer = Framer()
    by_bytes = [line for byte in data for line in framer.feed(bytes([byte]))]
    assert by_bytes == whole
    for size in (2, 3, 7, 64):
        framer = Framer()
        shards = [data[i : i + size] for i in range(0, len(data), size)]
        assert [line for shard in shards for line in framer.feed(shard)] == whole
    trailing = Framer().feed(data + b"$GPHDT,2")
    assert trailing == whole
    return whole


def near(value: float) -> Any:
    """A number in a fact that need only be equal to seven figures."""
    return pytest.approx(value, rel=1e-7)
