"""Who has it: one alert taken over by a person, and who has the watch until when.

A taken alert stays taken only while the taker is heard (two missed heartbeats give it back).
The handover note says who has the watch until when; its end pages the next.
"""

from __future__ import annotations

from typing import Any

import msgspec

from ..words.events import Command
from . import announcing
from .calling import Caller
from .desk import Desk, Instance, News
from .states import Phase, Refused, Trigger

Answer = tuple[int, str, dict[str, Any]]
MISSED = 2  # heartbeats


class Note(msgspec.Struct, frozen=True, kw_only=True):
    """The handover note."""

    who: str
    until_s: float | None = None
    next: str = ""  # outlet of whoever is next


class Duty:
    """Who has the watch."""

    def __init__(self, desk: Desk, caller: Caller) -> None:
        self.desk = desk
        self.caller = caller
        self.note: Note | None = None

    def take(self, command: Command) -> Answer:
        """take [--for 4h] [--next OUTLET]: you have the watch."""
        return self._set(command, command.who)

    def hand_over(self, command: Command) -> Answer:
        """handover --to NAME [--for 4h] [--next OUTLET]"""
        return self._set(command, str(command.args.get("to") or "").strip())

    def restore(self, note: Note | None, at_s: float) -> None:
        self.note = note
        if note is not None and note.until_s is not None:
            self.desk.timers.set("handover", "handover", max(note.until_s, at_s))

    def fire(self, at_s: float) -> None:
        """The watch ends: the next is paged, and what is unanswered is told again."""
        note, self.note = self.note, None
        if note is None:
            return
        who = (note.next,) if self.desk.routes.is_person(note.next) else ()
        text = f"The watch of {note.who} has ended. Nobody has the watch. Take it or hand it over."
        to = who or self.desk.routes.everybody()
        self.caller.note(to, "handover", "WATCH ENDED", text, at_s)
        self.desk.note("watch", text, at_s, who=note.who, next=note.next)
        for instance in self.desk.everything():
            if instance.phase is Phase.TRANSFERRED and (instance.record.transferred_to == note.who):
                hand_back(self.desk, instance, at_s)
            elif instance.is_unseen and instance.record.group is None:
                self.desk.news.append(News(instance, "repeat", at_s, "WATCH ENDED. ", to))

    def _set(self, command: Command, who: str) -> Answer:
        if not who:
            raise Refused("who has the watch? a name is needed")
        for_s, until_s = command.args.get("for_s"), command.args.get("until_s")
        if isinstance(for_s, int | float) and not isinstance(for_s, bool):
            if not 0 < for_s <= 24 * 3600:
                raise Refused("a watch is at most 24 h")
            until_s = round(command.at_s + for_s, 3)
        elif isinstance(until_s, int | float) and until_s <= command.at_s:
            raise Refused("that time is past")
        if not isinstance(until_s, int | float):
            until_s = None
        after = str(command.args.get("next") or "")
        if after and not self.desk.routes.is_person(after):
            raise Refused(f'"{after}" is no outlet of a person')
        self.note = Note(who=who, until_s=until_s, next=after)
        self.desk.timers.set("handover", "handover", until_s)
        until = ""
        if until_s is not None:
            label = self.desk.label(until_s)
            until = f" until {label[:10]} {label[11:16]} UTC"
        return 0, f"{who} has the watch{until}", {"who": who, "until_s": until_s}


def take_over(desk: Desk, instance: Instance, taker: str, command: Command) -> None:
    """Raises Refused where there is nothing to take."""
    record = instance.record
    try:
        desk.step(instance, Trigger.TRANSFER, command.at_s)
    except Refused as refused:
        raise Refused(f"{record.id}: {refused}") from None
    record.transferred_to = taker
    record.acknowledged_by, record.acknowledged_where = taker, command.where
    record.acknowledged_through, record.acknowledged_s = command.through, command.at_s
    _expect_heartbeat(desk, instance, command.at_s)
    announcing.answered(desk, instance, command.at_s)
    desk.keep(instance)


def hand_back(desk: Desk, instance: Instance, at_s: float) -> None:
    """Nobody has it any more: it calls again."""
    try:
        desk.step(instance, Trigger.HAND_BACK, at_s)
    except Refused as refused:
        raise Refused(f"{instance.record.id}: {refused}") from None
    announcing.announce(desk, instance, "repeat", at_s, lead="HANDED BACK. ")


def heartbeat(desk: Desk, command: Command) -> Answer:
    """heartbeat: whoever took alerts is still there."""
    held = [
        i for i in desk.everything()
        if i.phase is Phase.TRANSFERRED and i.record.transferred_to == command.who
    ]  # fmt: skip
    for instance in held:
        _expect_heartbeat(desk, instance, command.at_s)
    return 0, f"{len(held)} alert(s) held by {command.who}", {"ids": [i.record.id for i in held]}


def _expect_heartbeat(desk: Desk, instance: Instance, at_s: float) -> None:
    due_s = round(at_s + MISSED * desk.timings.heartbeat_s, 3)
    desk.timers.set("taker", instance.record.id, due_s)
