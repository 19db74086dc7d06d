"""Sealed text: a body and the proof of who wrote it, for wires that anybody may write to.

A pure module. On the wire one JSON object {"body": TEXT, "mac": HEX}: TEXT is taken as the very
characters that were sealed, so that no two programs need agree on how to write JSON; HEX is
HMAC-SHA256 (RFC 2104) with the shared secret over a purpose and TEXT. The purpose keeps what
was sealed for one use from being shown for another.
"""

from __future__ import annotations

import hashlib
import hmac

import msgspec

MIN_SECRET = 32  # characters


class NotSealed(ValueError):
    """No sealed text, or too long for one."""


class Sealed(msgspec.Struct, frozen=True):
    """As it came; nothing is proven before `is_by`."""

    body: str
    mac: str

    def is_by(self, secret: bytes, purpose: bytes) -> bool:
        """Whether it was sealed for this purpose with this secret."""
        expected = _mac(self.body.encode(), secret, purpose)
        return hmac.compare_digest(expected.encode(), self.mac.encode())


def seal(body: bytes, secret: bytes, purpose: bytes) -> bytes:
    """The payload as it goes over the wire."""
    return msgspec.json.encode(Sealed(body.decode(), _mac(body, secret, purpose)))


def unseal(payload: bytes, most: int) -> Sealed:
    """Raises NotSealed for anything that is none, or longer than `most` bytes."""
    if len(payload) > most:
        raise NotSealed("too long")
    try:
        sealed = msgspec.json.decode(payload, type=Sealed)
        (sealed.body + sealed.mac).encode()
    except (msgspec.DecodeError, UnicodeError, RecursionError):
        raise NotSealed("nothing sealed") from None
    return sealed


def _mac(body: bytes, secret: bytes, purpose: bytes) -> str:
    return hmac.new(secret, purpose + body, hashlib.sha256).hexdigest()
