"""Signs of life: what a boat sends to whoever ashore waits for it, and proves who sent it.

A pure module. On the wire one JSON object {"body": TEXT, "mac": HEX}; TEXT is a JSON object of
its own, taken as the very characters that were signed; HEX is HMAC-SHA256 (RFC 2104) over
PURPOSE and TEXT with the shared secret. `counter` grows within a `run` of the daemon, so that an
old sign of life cannot be played again to hide a dead boat.
"""

from __future__ import annotations

import hashlib
import hmac

import msgspec

PURPOSE = b"shipkeeper sign of life 1\n"
MAX_BYTES = 4096
MIN_SECRET = 32  # characters


class BadBeat(ValueError):
    """Not to be believed; the text says why, and holds nothing of the secret."""


class Beat(msgspec.Struct, frozen=True, kw_only=True):
    """One sign of life. sent: UNIX seconds by the boat's clock, for people to read only."""

    boat: str
    run: str
    counter: int
    sent: float
    watch: str
    crew: str
    alerts: int  # that stand unacknowledged


class _Envelope(msgspec.Struct, frozen=True):
    body: str
    mac: str


def key_of(secret: str) -> bytes:
    """ValueError when the secret is too short to protect anything."""
    if len(secret) < MIN_SECRET:
        raise ValueError(f"the heartbeat's key must have at least {MIN_SECRET} characters")
    return secret.encode()


def sign(beat: Beat, key: bytes) -> bytes:
    """What goes over the wire."""
    body = msgspec.json.encode(beat).decode()
    return msgspec.json.encode(_Envelope(body, _mac(body, key)))


def verify(payload: bytes, key: bytes) -> Beat:
    """The beat. Raises BadBeat for anything else; nothing in it is looked at before its mac."""
    if len(payload) > MAX_BYTES:
        raise BadBeat("too long")
    try:
        envelope = msgspec.json.decode(payload, type=_Envelope)
        if not hmac.compare_digest(_mac(envelope.body, key).encode(), envelope.mac.encode()):
            raise BadBeat("signed with another key, or changed on its way")
        return msgspec.json.decode(envelope.body, type=Beat)
    except (msgspec.MsgspecError, UnicodeError):
        raise BadBeat("no sign of life") from None


class Replays:
    """Refuses what was sent before: counters grow within a run, and an ended run stays ended."""

    def __init__(self) -> None:
        self._run = ""
        self._counter = -1
        self._ended: set[str] = set()

    def check(self, beat: Beat) -> None:
        """Raises BadBeat for a beat that was heard already."""
        if beat.run in self._ended or (beat.run == self._run and beat.counter <= self._counter):
            raise BadBeat("played again")
        if beat.run != self._run:
            if self._run:
                self._ended.add(self._run)
            self._run = beat.run
        self._counter = beat.counter


def _mac(body: str, key: bytes) -> str:
    return hmac.new(key, PURPOSE + body.encode(), hashlib.sha256).hexdigest()
