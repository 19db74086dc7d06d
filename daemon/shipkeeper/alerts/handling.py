"""What a person may do with an alert: acknowledge, silence, shelve, reset. Or be refused.

Acknowledgement is one at a time and bound to the occurrence that the person saw. From ashore
it takes the alert over and stops the calls, but the sounder goes on while somebody is meant to
be aboard: a tap ashore is no proof that anyone is on deck. Silence lasts 30 s and answers
nothing; the escalation goes on under it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import msgspec

from ..words.alert import ACTIVE, Priority, Reason, State
from ..words.effects import Keep, Reply
from ..words.events import Command
from .states import Refused, Step

if TYPE_CHECKING:
    from .board import Board, Instance

SILENCE_S = 30.0  # IMO MSC.302(87) 7.3.5
SHELVE_MOST_S = 12 * 3600.0
SHELVE_ALARM_MOST_S = 3600.0
BLIND_CHANNELS = frozenset({"push"})  # show no picture: not enough to judge category A by

Answer = tuple[int, str, dict[str, Any]]
REFUSED = 2


def obey(board: Board, command: Command) -> Reply:
    """Do the command, or say why not. Never raises for what a person can type."""
    act = VERBS.get(command.verb)
    try:
        if act is None:
            raise Refused(f'no such command: "{command.verb}"')
        code, text, data = act(board, command)
    except Refused as refused:
        return Reply(number=command.number, code=REFUSED, text=str(refused))
    return Reply(number=command.number, code=code, text=text, data=data)


def acknowledge(board: Board, command: Command) -> Answer:
    """ack ID [occurrence]"""
    instance = _named(board, command)
    record = instance.record
    seen = command.args.get("occurrence")
    if seen is not None and seen != record.occurrence:
        return REFUSED, f"that was occurrence {seen}; now it is {record.occurrence}", {}
    seen_at = command.args.get("seen_at_s")
    if record.worse_s is not None and isinstance(seen_at, int | float) and seen_at < record.worse_s:
        return REFUSED, "it has got worse since that message; look again", {}
    if record.category == "A" and command.through in BLIND_CHANNELS:
        _silence_one(board, instance, command.at_s)
        return 1, f"{record.id}: silenced only; it takes range and bearing to judge it", {}
    before = record.state
    ashore = command.where == "ashore" and board.crew == "aboard"
    members = board.members(record)
    record.acknowledged_by = command.who
    record.acknowledged_where = command.where
    record.acknowledged_through = command.through
    record.acknowledged_s = command.at_s
    if ashore and before in (State.UNACKNOWLEDGED, State.SILENCED):
        record.transferred_to = command.who
        board.step(instance, Step.TRANSFER, Reason.ACKNOWLEDGE, command.at_s)
        said = "taken; the sounder aboard goes on"
    else:
        board.step(instance, Step.ACKNOWLEDGE, Reason.ACKNOWLEDGE, command.at_s)
        said = "acknowledged"
    for member in members:
        # They were listed in what the person saw: one header, one answer.
        if member.record.state in (State.UNACKNOWLEDGED, State.SILENCED, State.RECTIFIED):
            member.record.acknowledged_by = command.who
            board.step(member, Step.ACKNOWLEDGE, Reason.ACKNOWLEDGE, command.at_s)
    if record.facts.get("event") == "gap" and record.state in ACTIVE:
        record.condition = "false"
        board.rectify(instance, command.at_s)
    also = f" (and {len(members)} it spoke for)" if members else ""
    data = {"id": record.id, "state": str(record.state), "occurrence": record.occurrence}
    return 0, f"{record.id}: {said}{also}", data


def silence(board: Board, command: Command) -> Answer:
    """silence [ID]: all sounds off for 30 s, nothing acknowledged."""
    wanted = command.args.get("id")
    instances = [_named(board, command)] if wanted else board.instances()
    quiet = [i for i in instances if _silence_one(board, i, command.at_s)]
    if not quiet:
        return 0, "nothing sounds", {"silenced": []}
    names = [i.record.id for i in quiet]
    return 0, f"silent for {SILENCE_S:.0f} s: {', '.join(names)}", {"silenced": names}


def shelve(board: Board, command: Command) -> Answer:
    """shelve ID --for 30min --why TEXT"""
    instance = _named(board, command)
    record = instance.record
    for_s, why = command.args.get("for_s", 1800.0), str(command.args.get("why", "")).strip()
    if record.kind in ("feed", "self"):
        return REFUSED, "the watch's own health cannot be shelved", {}
    if not why:
        return REFUSED, "shelving needs a reason: --why TEXT", {}
    most = SHELVE_ALARM_MOST_S if record.priority >= Priority.ALARM else SHELVE_MOST_S
    if not isinstance(for_s, int | float) or not 0 < for_s <= most:
        return REFUSED, f"shelving this is for at most {most / 3600:g} h: --for", {}
    before = board.shown(record)
    record.shelved_until_s = round(command.at_s + for_s, 3)
    record.shelved_why = why
    board.timers.set(record.id, "shelf", record.shelved_until_s)
    board.journal(instance, before, Reason.SHELVE, command.at_s)
    until = board.label(record.shelved_until_s)
    return 0, f"{record.id} shelved until {until}: {why}", {"id": record.id, "until": until}


def take_off_shelf(board: Board, command: Command) -> Answer:
    instance = _named(board, command)
    if instance.record.shelved_until_s is None:
        return REFUSED, f"{instance.record.id} is not shelved", {}
    unshelve(board, instance, command.at_s)
    return 0, f"{instance.record.id} off the shelf", {"id": instance.record.id}


def unshelve(board: Board, instance: Instance, at_s: float) -> None:
    """End of the shelf: what is true is announced afresh, with its first time kept."""
    record = instance.record
    if record.shelved_until_s is None:
        return
    record.shelved_until_s, record.shelved_why = None, ""
    board.timers.set(record.id, "shelf", None)
    if record.state in (State.ACKNOWLEDGED, State.SILENCED) and record.condition == "true":
        record.state = State.UNACKNOWLEDGED
    board.fresh += record.state is State.UNACKNOWLEDGED
    board.journal(instance, State.SHELVED, Reason.SHELF_OVER, at_s)
    board.caller.tell(record, "raised", at_s)


def reset(board: Board, command: Command) -> Answer:
    instance = _named(board, command)
    board.step(instance, Step.RESET, Reason.ACKNOWLEDGE, command.at_s)
    return 0, f"{instance.record.id} reset", {"id": instance.record.id}


VERBS: dict[str, Callable[[Board, Command], Answer]] = {
    "ack": acknowledge,
    "silence": silence,
    "shelve": shelve,
    "unshelve": take_off_shelf,
    "reset": reset,
}


def _named(board: Board, command: Command) -> Instance:
    found = board.lookup(str(command.args.get("id", "")))
    if isinstance(found, str):
        raise Refused(found)
    return found


def _silence_one(board: Board, instance: Instance, at_s: float) -> bool:
    record = instance.record
    if record.state is not State.UNACKNOWLEDGED:
        return False
    board.step(instance, Step.SILENCE, Reason.SILENCE, at_s)
    record.silenced_until_s = round(at_s + SILENCE_S, 3)
    board.timers.set(record.id, "silence", record.silenced_until_s)
    board.keep(Keep(alert=msgspec.structs.replace(record)))
    return True
