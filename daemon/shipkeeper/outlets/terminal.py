"""A buzzer drawn as text, where there is no GPIO: the same patterns, on standard output."""

from __future__ import annotations

import sys
from typing import ClassVar, Literal

import msgspec

from ..words.orders import OutletTable
from ..words.wires import LevelOutlet, SecretReader
from .patterns import pattern
from .plain import one_line
from .sounder import Sounder


class Drawn(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`terminal = { bell = true }` rings the terminal's own bell as well."""

    bell: bool = False


class TerminalOutlet(OutletTable, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`terminal = {}`"""

    kind: ClassVar[str] = "terminal"
    sort: ClassVar[Literal["edge", "level"]] = "level"

    terminal: Drawn

    def open(self, secret: SecretReader) -> LevelOutlet:
        return Sounder(self.name, DrawnVoice(self.terminal.bell))


class DrawnVoice:
    """Prints each new pattern once, as it would be heard."""

    def __init__(self, bell: bool) -> None:
        self._bell = bell
        self._silent = True

    def tone(self, hz: int) -> None:
        if hz and self._bell:
            self._print("\a", end="")

    def pattern(self, name: str, text: str) -> None:
        if name == "silence":
            if not self._silent:
                self._print("buzzer  (silent)")
            self._silent = True
            return
        self._silent = False
        self._print(f"buzzer  {pattern(name).drawn}  [{name}]  {one_line(text)}")

    def close(self) -> None:
        return None

    @staticmethod
    def _print(text: str, end: str = "\n") -> None:
        try:
            sys.stdout.write(text + end)
            sys.stdout.flush()
        except (OSError, ValueError):
            return  # nobody looks: the sounder must not die of it
