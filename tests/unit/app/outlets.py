"""Outlet kinds for these tests: as real as any, but what they deliver stays in a list."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Any, ClassVar, Literal

from shipkeeper.words.alert import Priority
from shipkeeper.words.effects import Message, Show, Wanted
from shipkeeper.words.orders import OutletTable
from shipkeeper.words.wires import DeliveryFailed, EdgeOutlet, LevelOutlet, SecretReader

NIGHT_S = 1_781_215_200.0  # 2026-06-11T22:00:00Z


class Letterbox:
    """An edge outlet: `link` may be down, or hold a delivery until it is let go."""

    def __init__(self) -> None:
        self.got: list[Message] = []
        self.came = threading.Condition()
        self.link_up = True
        self.poison = ""  # a message with this title is always refused
        self.hold = threading.Event()
        self.hold.set()

    def deliver(self, message: Message) -> None:
        self.hold.wait()
        if not self.link_up or (self.poison and message.title == self.poison):
            raise DeliveryFailed("the link is down")
        with self.came:
            self.got.append(message)
            self.came.notify_all()

    def wait_for(self, count: int, timeout_s: float = 30.0) -> bool:
        with self.came:
            return self.came.wait_for(lambda: len(self.got) >= count, timeout_s)

    def close(self) -> None:
        return None


class Table(OutletTable, frozen=True, kw_only=True):
    """Opens what `make` makes."""

    make: Callable[[], EdgeOutlet | LevelOutlet]

    def open(self, secret: SecretReader) -> LevelOutlet | EdgeOutlet:
        return self.make()


class MachineTable(Table, frozen=True, kw_only=True):
    """One that a machine reads."""

    reader: ClassVar[Literal["person", "machine"]] = "machine"


class LevelTable(Table, frozen=True, kw_only=True):
    sort: ClassVar[Literal["edge", "level"]] = "level"


class Bell:
    """A level outlet that notes what it is shown."""

    def __init__(self) -> None:
        self.shown: list[str] = []
        self.closed = 0

    def show(self, wanted: Wanted, state: Show) -> None:
        self.shown.append(wanted.pattern)

    def close(self) -> None:
        self.closed += 1


def message(
    number: int,
    *,
    priority: Priority = Priority.WARNING,
    outlet: str = "phone",
    event: Literal["raised", "cleared"] = "raised",
    at_s: float = NIGHT_S,
) -> Message:
    return Message(
        id=f"m{number}",
        outlet=outlet,
        at_s=at_s,
        at="2026-06-11T22:00:00.000Z",
        event=event,
        about=f"alert{number}",
        number=number,
        occurrence=1,
        priority=priority,
        state="active-unacknowledged",
        title=f"T{number}",
        line=f"line {number}",
        text=f"text {number}",
    )


def no_secret(reference: str) -> str:
    raise ValueError(reference)


def nobody_obeys(
    verb: str,
    args: dict[str, Any],
    *,
    who: str,
    where: Literal["aboard", "ashore"],
    through: str,
    **signed: Any,
) -> tuple[int, str]:
    """Obey of words.wires for an outlet that is handed nothing to command."""
    raise AssertionError(verb)
