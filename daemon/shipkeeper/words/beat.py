"""Signs of life: what a boat sends to whoever ashore waits for it, and proves who sent it.

A pure module. On the wire it is sealed text (words/sealed.py) with PURPOSE, whose body is a
`Beat`. `counter` grows within a `run` of the daemon, so that an old sign of life cannot be played
again to hide a dead boat.
"""

from __future__ import annotations

import msgspec

from .sealed import MIN_SECRET, NotSealed, seal, unseal

PURPOSE = b"shipkeeper sign of life 1\n"
MAX_BYTES = 4096


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
    unheard: tuple[str, ...] = ()  # people whom no message has reached for minutes


def key_of(secret: str) -> bytes:
    """ValueError when the secret is too short to protect anything."""
    if len(secret) < MIN_SECRET:
        raise ValueError(f"the heartbeat's key must have at least {MIN_SECRET} characters")
    return secret.encode()


def sign(beat: Beat, key: bytes) -> bytes:
    """What goes over the wire."""
    return seal(msgspec.json.encode(beat), key, PURPOSE)


def verify(payload: bytes, key: bytes) -> Beat:
    """The beat. Raises BadBeat for anything else; nothing in it is looked at before its mac."""
    try:
        sealed = unseal(payload, MAX_BYTES)
        if not sealed.is_by(key, PURPOSE):
            raise BadBeat("signed with another key, or changed on its way")
        return msgspec.json.decode(sealed.body, type=Beat)
    except (NotSealed, msgspec.DecodeError, RecursionError):
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
