"""Signed commands: what comes over a wire that anybody may write to, and proves who sent it.

A pure module: no wire, no clock, no file. An edge (MQTT) hands over the payload and the keys it
was given, and gets a `SignedCommand` or `BadSignature`; it then puts ONE `events.Command` with
`key`, `counter`, `sent_s` and `through` set. The engine's gate (alerts/admitting.py) refuses what
is replayed, too old, not allowed through that wire, or names no occurrence.

On the wire it is sealed text (words/sealed.py) with PURPOSE, whose body is a JSON object:
{"boat": "Curlew", "key": "ann", "counter": 18, "sent": 1781234567.5, "verb": "ack",
"args": {"id": "drag", "occurrence": 2}}. `counter` grows with each command of a key, for ever;
`sent` is UNIX seconds.

The keys are a secret text, one a line: NAME aboard|ashore SECRET (at least 32 characters). Where
its holder is stands there, not in the message: a phone ashore cannot say that it is aboard.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, cast

import msgspec

from .sealed import MIN_SECRET, NotSealed, seal, unseal

PURPOSE = b"shipkeeper command 1\n"
MAX_BYTES = 8192


class BadSignature(ValueError):
    """Not to be obeyed; the text says why, and holds nothing of the key or the message."""


class Key(msgspec.Struct, frozen=True):
    """Whose commands it signs, and where that person (or machine) is."""

    name: str
    where: Literal["aboard", "ashore"]
    secret: bytes

    def __repr__(self) -> str:  # a secret never reaches a log
        return f"Key({self.name!r}, {self.where!r})"


class SignedCommand(msgspec.Struct, frozen=True):
    """What was signed. Field names are those of the body."""

    boat: str
    key: str
    counter: int
    sent: float
    verb: str
    args: dict[str, Any] = {}


def read_keys(text: str) -> dict[str, Key]:
    """The keys of a secret text by name. Raises ValueError without a word of the secret."""
    keys: dict[str, Key] = {}
    for number, row in enumerate(text.splitlines(), 1):
        parts = row.split()
        if not parts or parts[0].startswith("#"):
            continue
        if len(parts) != 3 or parts[1] not in ("aboard", "ashore"):
            raise ValueError(f"line {number} of the keys: expected NAME aboard|ashore SECRET")
        if len(parts[2]) < MIN_SECRET:
            raise ValueError(f"line {number} of the keys: a secret has {MIN_SECRET} characters")
        if parts[0] in keys:
            raise ValueError(f'line {number} of the keys: "{parts[0]}" is there twice')
        where = cast('Literal["aboard", "ashore"]', parts[1])
        keys[parts[0]] = Key(parts[0], where, parts[2].encode())
    return keys


def sign(command: SignedCommand, secret: bytes) -> bytes:
    """The payload as it goes over the wire."""
    return seal(msgspec.json.encode(command), secret, PURPOSE)


def verify(payload: bytes, keys: Mapping[str, Key], boat: str) -> tuple[SignedCommand, Key]:
    """What was signed, and by whom. Raises BadSignature."""
    if len(payload) > MAX_BYTES:
        raise BadSignature("too long for a command")
    try:
        sealed = unseal(payload, MAX_BYTES)
        command = msgspec.json.decode(sealed.body, type=SignedCommand)
    except (NotSealed, msgspec.DecodeError, RecursionError):
        raise BadSignature("no signed command") from None
    key = keys.get(command.key)
    # An unknown key costs the same time as a wrong signature.
    secret = key.secret if key is not None else b"-" * MIN_SECRET
    if not sealed.is_by(secret, PURPOSE) or key is None:
        raise BadSignature("the signature is not that of a known key")
    if command.boat != boat:
        raise BadSignature("it is for another boat")
    return command, key
