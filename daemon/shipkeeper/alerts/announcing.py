"""Announcing: an alert calls for an answer, louder and wider until somebody gives one.

A warning that nobody acknowledges becomes an alarm after a minute. An alarm goes to people on
the cadence of the watch-alarm standard, over the call list, and never stops by itself while it
is so and nobody has answered (times in timings.py, stages in routing.py).
"""

from __future__ import annotations

from ..words.alert import Priority, Reason
from .desk import Desk, Instance, News, NewsKind
from .states import Phase, Quiet, Suppression, Trigger, next_suppression, released
from .timings import ESCALATE_MAX_S


def announce(desk: Desk, instance: Instance, kind: NewsKind, at_s: float, lead: str = "") -> None:
    """Sound, tell, and begin to escalate; held back while it is shelved or out of service."""
    desk.keep(instance)
    if instance.is_quiet:
        return
    desk.news.append(News(instance, kind, at_s, lead))
    if instance.phase is not Phase.UNACK:
        return
    instance.fresh = True
    begin(desk, instance, at_s)
    for other in desk.everything():
        lower = other.record.priority < instance.record.priority
        if lower and other.record.silenced_until_s is not None:
            other.record.silenced_until_s = None
            desk.step(other, Trigger.OUTRANKED, at_s)


def begin(desk: Desk, instance: Instance, at_s: float) -> None:
    """Start the clocks of escalation; those that run already go on."""
    record, timers, timings = instance.record, desk.timers, desk.timings
    if record.priority is Priority.WARNING:
        if timers.due("escalate", record.id) is None:
            after_s = min(timings.escalate_s, ESCALATE_MAX_S)
            timers.set("escalate", record.id, round(at_s + after_s, 3))
    elif timers.due("people", record.id) is None:
        record.urgent_s, record.stage_s, record.level = at_s, 0.0, 0
        _next_call(desk, instance)


def _next_call(desk: Desk, instance: Instance) -> None:
    record = instance.record
    urgent_s = record.urgent_s or 0.0
    after_s = desk.routes.next_stage(record.stage_s).after_s
    desk.timers.set("people", record.id, round(urgent_s + after_s, 3))


def resume(desk: Desk, instance: Instance, at_s: float) -> None:
    """After a restart: go on where the calls had come, without calling all at once."""
    record = instance.record
    if record.priority is Priority.WARNING:
        begun_s = at_s if record.raised_s is None else record.raised_s
        due_s = begun_s + min(desk.timings.escalate_s, ESCALATE_MAX_S)
        desk.timers.set("escalate", record.id, round(max(due_s, at_s), 3))
        return
    if record.urgent_s is None or record.urgent_s > at_s:
        record.urgent_s, record.stage_s = at_s, 0.0
    stage = desk.routes.stage_at(round(at_s - record.urgent_s, 3))
    if stage is not None:
        record.stage_s, record.level = stage.after_s, stage.level
    _next_call(desk, instance)


def fire_escalate(desk: Desk, instance: Instance, at_s: float) -> None:
    """A warning that nobody answered becomes an alarm."""
    record = instance.record
    if not instance.is_unseen or record.priority is not Priority.WARNING:
        return
    record.priority = Priority.ALARM
    record.silenced_until_s = None
    desk.step(instance, Trigger.ESCALATE, at_s)
    announce(desk, instance, "repeat", at_s, lead="NOT ANSWERED. ")


def fire_people(desk: Desk, instance: Instance, at_s: float) -> None:
    """The next people are called."""
    record = instance.record
    if not instance.is_unseen or record.urgent_s is None:
        return
    elapsed_s = round(at_s - record.urgent_s, 3)
    stage = desk.routes.stage_at(elapsed_s)
    if stage is not None:
        record.stage_s, record.level = stage.after_s, stage.level
    if record.group is None:
        who = desk.routes.people_at(record.call, record.priority, elapsed_s)
        desk.news.append(News(instance, "repeat", at_s, "NOT ANSWERED. ", who))
    desk.keep(instance)
    _next_call(desk, instance)


def fire_silence(desk: Desk, instance: Instance, at_s: float) -> None:
    instance.record.silenced_until_s = None
    instance.fresh = instance.phase is Phase.SILENCED
    desk.step(instance, Trigger.SILENCE_OVER, at_s)


def fire_still(desk: Desk, instance: Instance, at_s: float) -> None:
    """Acknowledged or taken long ago, and still so: told again."""
    proof = instance.proof
    if instance.is_quiet or proof.data_lost or proof.condition != "true":
        desk.timers.set("still", instance.record.id, round(at_s + desk.timings.still_s, 3))
        return
    taken = instance.phase is Phase.TRANSFERRED
    desk.step(instance, Trigger.TAKER_LOST if taken else Trigger.REPEAT, at_s)
    announce(desk, instance, "repeat", at_s, lead="STILL SO. ")


def fire_taker(desk: Desk, instance: Instance, at_s: float) -> None:
    """Whoever took it is not heard of any more."""
    taker = instance.record.transferred_to or "whoever had it"
    desk.step(instance, Trigger.TAKER_LOST, at_s)
    announce(desk, instance, "repeat", at_s, lead=f"NOBODY HAS IT: {taker} is not heard. ")


def answered(desk: Desk, instance: Instance, at_s: float) -> None:
    """Somebody knows: an alarm is told again later if it is still so."""
    known = instance.phase in (Phase.ACK, Phase.TRANSFERRED)
    if known and instance.record.priority >= Priority.ALARM:
        due_s = round(at_s + desk.timings.still_s, 3)
        desk.timers.set("still", instance.record.id, due_s)


def tell_cleared(desk: Desk, instance: Instance, at_s: float, lead: str = "") -> None:
    """Everybody who was told of it is told that it is over."""
    if instance.record.paged and not instance.is_quiet:
        desk.news.append(News(instance, "cleared", at_s, lead))


def leave_quiet(
    desk: Desk,
    instance: Instance,
    what: Quiet,
    at_s: float,
    reason: Reason = Reason.SHELF_OVER,
) -> None:
    """Suppression ends; what is still so is announced afresh, with its first times kept."""
    after = next_suppression(instance.suppression, what)
    record = instance.record
    record.shelved_until_s, record.shelved_why, record.shelved_one_shot = None, "", False
    instance.phase = released(instance.phase)
    desk.suppress(instance, after, reason, at_s)
    if instance.phase in (Phase.UNACK, Phase.ACTIVE):
        announce(desk, instance, "raised", at_s)
    desk.close_if_done(instance)


def withdraw(desk: Desk, instance: Instance, at_s: float, reason: Reason, lead: str) -> None:
    """Its rule does not stand any more: logged and told (`lead` says why), never silently."""
    record = instance.record
    told = bool(record.paged) and not instance.is_quiet
    if instance.suppression is Suppression.SHELVED:
        record.shelved_until_s, record.shelved_why, record.shelved_one_shot = None, "", False
        instance.suppression = Suppression.NONE
    desk.unspend(instance)
    record.cleared_s = at_s
    instance.proof.end()
    if instance.phase is Phase.NORMAL:
        desk.suppress(instance, instance.suppression, reason, at_s)
    else:
        desk.step(instance, Trigger.WITHDRAW, at_s, reason)
    if told:
        tell_cleared(desk, instance, at_s, lead=lead)
    desk.close_if_done(instance)
