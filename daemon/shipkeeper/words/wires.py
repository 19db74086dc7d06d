"""The contracts of the edges: what an input, an outlet and a store worker must offer.

Edges know these words and nothing else of the house. Each runs in a thread of its own; the
supervisor starts it, restarts it with back-off when it raises, and abandons it by name when
it does not stop within two seconds. No worker touches the engine.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Literal, Protocol, runtime_checkable

import msgspec

from .alert import Priority
from .effects import Message, Show, Wanted


class InputSink(Protocol):
    """Where an input puts what it hears. Safe to call from any thread, never blocks long."""

    def data(self, chunk: bytes, *, whole: bool = False) -> None:
        """Bytes as they came; `whole`: a datagram, so a line ends with it."""

    def news(self, up: bool, why: str = "") -> None:
        """The wire came up or went down; `why` in words for a person."""


class InputWorker(Protocol):
    """Reads one wire until told to stop, reconnecting by itself with back-off."""

    def run(self, sink: InputSink, stop: threading.Event) -> None: ...


class ContactSink(Protocol):
    """Where a GPIO input or button puts its debounced changes."""

    def contact(self, name: str, closed: bool | None) -> None: ...


class CommandSink(Protocol):
    """Where a person's word from a button goes. Safe to call from any thread; nobody waits."""

    def command(
        self, verb: str, args: Mapping[str, Any], *, who: str = "", through: str = "command line"
    ) -> int: ...


class LevelOutlet(Protocol):
    """Shown the wanted state at every change and once a second; heals itself by that."""

    def show(self, wanted: Wanted, state: Show) -> None: ...

    def close(self) -> None: ...


class Linked(Protocol):
    """A level outlet over a link that comes and goes by itself may say how it stands."""

    def link(self) -> tuple[bool, str] | None:
        """(works, why); None while that is not yet decided."""


class Obey(Protocol):
    """How an outlet that may hear commands hands one to the engine. Waits for the answer."""

    def __call__(
        self,
        verb: str,
        args: dict[str, Any],
        *,
        who: str,
        where: Literal["aboard", "ashore"],
        through: str,
        key: str = "",
        counter: int | None = None,
        sent_s: float | None = None,
    ) -> tuple[int, str]:
        """(code, text) as the command line has them. key, counter, sent_s: of a signed command
        (words/signed.py); the engine refuses what is replayed or too old."""


def _nothing_stuck() -> Sequence[str]:
    return ()


class Aboard(msgspec.Struct, frozen=True):
    """What an outlet that is part of the boat's systems may know and do. stuck: parts of the
    daemon that do not move just now, in words. unheard: outlets of people with a message that
    nobody has got for minutes."""

    vessel: str
    obey: Obey
    stuck: Callable[[], Sequence[str]] = _nothing_stuck
    unheard: Callable[[], Sequence[str]] = _nothing_stuck


class DeliveryFailed(Exception):
    """A message was not delivered; the outbox tries again later. Text without secrets. again_s:
    the other end asked to be left alone for so long."""

    def __init__(self, why: str, again_s: float | None = None) -> None:
        super().__init__(why)
        self.again_s = again_s


class EdgeOutlet(Protocol):
    """Delivers messages from the outbox, one at a time; raises DeliveryFailed to be retried."""

    def deliver(self, message: Message) -> None: ...

    def close(self) -> None: ...


@runtime_checkable
class Heir(Protocol):
    """An edge outlet that cannot be sure of all that it delivered: when its worker is started
    anew, the outlet opened then is told of the one before."""

    def follow(self, before: EdgeOutlet) -> None: ...


class Ended(Protocol):
    """Told how a try ended, from any thread, once: why not, '' when it was taken; again_s as in
    DeliveryFailed."""

    def __call__(self, why: str, again_s: float | None = None) -> None: ...


@runtime_checkable
class AddressedOutlet(Protocol):
    """An edge outlet with several addresses, each tried by itself. Addresses may be secrets."""

    within_s: float  # a try without an answer for so long has failed, as far as anyone can tell

    def addresses(self, priority: Priority) -> Sequence[str]:
        """Who gets a message of this priority. Raises DeliveryFailed."""

    def named(self, number: int) -> str:
        """The address in words, for the beginning of a line, without its secret."""

    def begin(self, address: str, message: Message, ended: Ended) -> bool:
        """Begin a try and do not wait for it. False: too many hang, none was begun."""


SecretReader = Callable[[str], str]
"""Turns 'credential:NAME' or a path into the secret's text; raises OSError or ValueError."""
