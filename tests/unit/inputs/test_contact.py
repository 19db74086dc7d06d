"""inputs/contact.py: what cannot be read is never 'open'. Lines themselves are proved in the
virtual boat computer, which has simulated GPIO; this machine has none."""

from __future__ import annotations

import threading

import pytest

from shipkeeper.inputs.contact import ContactReader


class Told:
    def __init__(self) -> None:
        self.got: list[tuple[str, bool | None]] = []

    def contact(self, name: str, closed: bool | None) -> None:
        self.got.append((name, closed))


@pytest.mark.parametrize("pull", ["up", "down", "none"])
def test_a_missing_chip_is_told_as_unknown_and_raised(pull: str) -> None:
    """No such chip: None to the engine, OSError to the supervisor, which tries again."""
    told = Told()
    reader = ContactReader("bilge float", "/dev/gpiochip-none", 22, pull, 0.05)  # type: ignore[arg-type]  # parametrized literal
    with pytest.raises(OSError):
        reader.run(told, threading.Event())
    assert told.got == [("bilge float", None)]
