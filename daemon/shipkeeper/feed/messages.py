"""Words and commands from other equipment: TXT, and ACN and ACK for our alerts."""

from __future__ import annotations

from operator import itemgetter
from typing import Literal

from ..words.observations import AlertCommand, Observation, ReceiverText
from .fields import Fields, layout, unescape, whole

Observations = tuple[Observation, ...]

_TXT = layout("TXT", "msg_type", "text")
# IEC 61162-1, from memory (pynmea2 has neither): time, maker, alert, instance, command, C.
_ACN = itemgetter(2, 3, 4, 5, 6)
_COMMANDS: dict[str, Literal["acknowledge", "silence", "transfer", "request"]] = {
    "A": "acknowledge",
    "S": "silence",
    "O": "transfer",
    "Q": "request",
}


def txt(fields: Fields) -> Observations:
    """A device's own message."""
    _, text = _TXT(fields)
    return (ReceiverText(unescape(text)),) if text else ()


def acn(fields: Fields) -> Observations:
    """A command for an alert. One marked as anything but a command (C) says nothing."""
    maker, identifier_, instance_, command_, flag = _ACN(fields)
    identifier, command = whole(identifier_, 0, 9_999_999), _COMMANDS.get(command_)
    if identifier is None or command is None or flag != "C":
        return ()
    instance = whole(instance_, 0, 999_999)
    if instance is None and instance_:
        return ()  # a command for an instance that cannot be read must not hit them all
    return (AlertCommand(identifier, instance, command, maker),)


def ack(fields: Fields) -> Observations:
    """The older acknowledgement: an alarm number and nothing else."""
    identifier = whole(fields[1], 0, 9_999_999)
    return () if identifier is None else (AlertCommand(identifier, None, "acknowledge"),)
