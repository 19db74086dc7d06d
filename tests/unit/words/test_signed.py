"""Signed commands: what proves itself is taken, everything else is refused and nothing leaks."""

from __future__ import annotations

import hashlib

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.words.signed import (
    MAX_BYTES,
    PURPOSE,
    BadSignature,
    SignedCommand,
    read_keys,
    sign,
    verify,
)

SECRET = "0123456789abcdef0123456789abcdef"
KEYS = read_keys(f"# phones\nann ashore {SECRET}\nhelm aboard {SECRET[::-1]}\n\n")
ACK = SignedCommand("Curlew", "ann", 18, 1_781_234_567.5, "ack", {"id": "drag", "occurrence": 2})


def hmac_by_hand(secret: bytes, text: bytes) -> str:
    """HMAC as RFC 2104 section 2 defines it, with B = 64 for SHA-256."""
    key = secret.ljust(64, b"\0")
    inner = hashlib.sha256(bytes(b ^ 0x36 for b in key) + text).digest()
    return hashlib.sha256(bytes(b ^ 0x5C for b in key) + inner).hexdigest()


def test_what_was_signed_is_read_back_with_its_holder() -> None:
    command, key = verify(sign(ACK, SECRET.encode()), KEYS, "Curlew")
    assert command == ACK
    assert (key.name, key.where) == ("ann", "ashore")


def test_the_mac_is_that_of_the_standard_over_the_very_characters() -> None:
    """RFC 2104, worked out by hand; the sender may write its JSON as it likes."""
    body = '{ "boat":"Curlew","verb" : "silence","key":"ann","sent":1.5,"counter":1 }'
    mac = hmac_by_hand(SECRET.encode(), PURPOSE + body.encode())
    command, _ = verify(msgspec.json.encode({"body": body, "mac": mac}), KEYS, "Curlew")
    assert (command.verb, command.args) == ("silence", {})


@given(st.integers(0, 400), st.integers(1, 255))
def test_no_changed_byte_passes(place: int, change: int) -> None:
    payload = bytearray(sign(ACK, SECRET.encode()))
    payload[place % len(payload)] ^= change
    try:
        command, _ = verify(bytes(payload), KEYS, "Curlew")
    except BadSignature:
        return
    assert command == ACK, "only the envelope's blanks or letters of a name may differ"


@given(st.binary(max_size=300))
def test_no_bytes_break_it(payload: bytes) -> None:
    with pytest.raises(BadSignature):
        verify(payload, KEYS, "Curlew")


@pytest.mark.parametrize(
    ("payload", "why"),
    [
        (sign(ACK, b"x" * 32), "known key"),
        (sign(msgspec.structs.replace(ACK, key="bob"), SECRET.encode()), "known key"),
        (sign(msgspec.structs.replace(ACK, key="helm"), SECRET.encode()), "known key"),
        (sign(msgspec.structs.replace(ACK, boat="Dunlin"), SECRET.encode()), "another boat"),
        (b" " * (MAX_BYTES + 1), "too long"),
        (b"[" * 5000, "no signed"),
    ],
)
def test_what_is_refused_is_told_without_the_secret(payload: bytes, why: str) -> None:
    with pytest.raises(BadSignature, match=why) as told:
        verify(payload, KEYS, "Curlew")
    assert SECRET not in str(told.value)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("ann ashore short", "32 characters"),
        (f"ann {SECRET}", "expected NAME"),
        (f"ann abroad {SECRET}", "expected NAME"),
        (f"ann ashore {SECRET}\nann aboard {SECRET}", "twice"),
    ],
)
def test_faulty_keys_are_told_by_line_and_never_shown(text: str, why: str) -> None:
    with pytest.raises(ValueError, match=why) as told:
        read_keys(text)
    assert SECRET not in str(told.value)
    assert SECRET not in repr(KEYS)
