"""What a file made anew after damage is to have at once: the messages that are owed, and which
numbers of alerts are given. All else the engine says again when it hears of the new file.

Nothing is copied: the messages are those that the outlets' threads hold too.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence

from ..words.effects import Keep, Message, Record, Send
from . import rows


class Owed:
    """Not safe by itself: the store calls it under its lock."""

    def __init__(self) -> None:
        self._messages: dict[str, Message] = {}
        self._number = 0

    def found(self, messages: Iterable[Message]) -> None:
        """What an outlet took up from the file."""
        self._messages.update((message.id, message) for message in messages)

    def numbered(self, number: int) -> None:
        """The last number that was given."""
        self._number = max(self._number, number)

    def took(self, effects: Iterable[rows.Kept], paid: Sequence[str]) -> None:
        """What goes into the file with a commit. To hear of it twice changes nothing."""
        for effect in effects:
            if isinstance(effect, Record | Keep):
                self.numbered(effect.alert.number)
            elif isinstance(effect, Send):
                self._messages.setdefault(effect.message.id, effect.message)
        for message_id in paid:
            self._messages.pop(message_id, None)

    def write(self, db: sqlite3.Connection) -> None:
        """All of it into that file, in a transaction that is open. Raises sqlite3.Error."""
        for message in self._messages.values():
            rows.write(db, Send(message=message))
        rows.number_given(db, self._number)
