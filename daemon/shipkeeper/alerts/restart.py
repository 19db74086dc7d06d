"""Restart: what an earlier run left is taken up before any data, and sounds again.

Engine seconds of two runs are compared through the last sign of life and the gap between them,
so that a clock that was set meanwhile moves no timer. Where the gap is not known, shelves end:
better one sound too many than one too few.
"""

from __future__ import annotations

import msgspec

from ..words.alert import AlertRecord, Priority, Reason, State
from ..words.orders import RuleOrders
from ..words.remembered import Remembered
from . import announcing, quieting
from .calling import Caller
from .desk import CHATTER, OWN_KIND, Desk, Instance, own_verdict
from .judging import SWAMPED, no_longer_swamped
from .quieting import SERVICE
from .states import OVER, RAISED, UNSEEN, Phase, Quiet, Suppression, Trigger
from .taking import Duty, Note

KEY = "board"
OCCURRENCES_KEPT = 200
_TIMES = ("since_s", "raised_s", "cleared_s", "data_at_s", "acknowledged_s", "worse_s",
          "silenced_until_s", "shelved_until_s", "data_lost_s", "urgent_s")  # fmt: skip
_PHASE_OF = {
    State.UNKNOWN: Phase.UNKNOWN,
    State.ACTIVE: Phase.ACTIVE,
    State.UNACKNOWLEDGED: Phase.UNACK,
    State.SILENCED: Phase.SILENCED,
    State.ACKNOWLEDGED: Phase.ACK,
    State.TRANSFERRED: Phase.TRANSFERRED,
    State.RECTIFIED: Phase.RECTIFIED,
    State.LATCHED: Phase.LATCHED,
    State.LATCHED_ACKNOWLEDGED: Phase.LATCHED_ACK,
}


class Kept(msgspec.Struct):
    """What the board remembers besides the alerts."""

    out_of_service: dict[str, str] = {}
    duty: Note | None = None
    digest_s: float | None = None
    held: dict[str, list[str]] = {}  # by quiet hours
    occurrences: dict[str, int] = {}  # of alerts that are over: an old answer stays refused


def state_of(desk: Desk, duty: Duty, caller: Caller) -> bytes:
    """To be kept under KEY."""
    past = {i.record.id: i.record.occurrence for i in desk.past.values() if i.record.occurrence}
    occurrences = dict(list({**desk.occurrences, **past}.items())[-OCCURRENCES_KEPT:])
    kept = Kept(desk.out_of_service, duty.note, caller.digest_s, caller.held, occurrences)
    return msgspec.json.encode(kept, order="sorted")


def restore(
    desk: Desk,
    duty: Duty,
    caller: Caller,
    remembered: Remembered,
    at_s: float,
    gap_s: float | None,
) -> None:
    """See the module's first lines."""
    shift_s = 0.0
    if remembered.last_alive_s is not None:
        # Where the gap is not known the stamps are at least brought before now.
        shift_s = round(at_s - (gap_s or 0.0) - remembered.last_alive_s, 3)
    kept = _read(remembered.state.get(KEY))
    desk.next_number = max(desk.next_number, remembered.next_number)
    desk.out_of_service = {s: why for s, why in kept.out_of_service.items() if s in desk.rules}
    desk.occurrences = kept.occurrences
    caller.digest_s = None if kept.digest_s is None else kept.digest_s + shift_s
    caller.restore_held(kept.held, at_s)
    note = kept.duty
    if note is not None and note.until_s is not None:
        note = msgspec.structs.replace(note, until_s=round(note.until_s + shift_s, 3))
    duty.restore(note, at_s)
    quieting.remind_later(desk, at_s)
    for record in remembered.alerts:
        _adopt(desk, record, shift_s, at_s, gap_known=gap_s is not None)
    _end_own_words(desk, at_s)
    if remembered.last_alive_s is not None:
        tell_gap(desk, at_s, gap_s)


def _read(raw: bytes | None) -> Kept:
    """Unreadable state is left aside: the alerts themselves are in their own rows."""
    if raw is None:
        return Kept()
    try:
        return msgspec.json.decode(raw, type=Kept)
    except ValueError:  # msgspec's own errors, and text that is not UTF-8
        return Kept()


def _adopt(
    desk: Desk, record: AlertRecord, shift_s: float, at_s: float, *, gap_known: bool
) -> None:
    slug = record.id.partition(":")[0]
    removed = slug not in desk.rules
    if removed:
        desk.rules[slug] = RuleOrders(name=record.rule)
        desk.by_rule[slug] = {}
    instance = _rebuild(desk, slug, record, shift_s)
    if instance.phase is Phase.NORMAL and not instance.is_quiet and not record.spent:
        _forget(desk, slug, removed)
        return
    desk.by_id[record.id] = desk.by_rule[slug][record.subject.key] = instance
    if removed or not desk.stands(slug):
        why = "its rule is no longer in the orders" if removed else "its rule does not stand now"
        reason = Reason.RESTART if removed else Reason.WATCH
        if instance.suppression is Suppression.OUT_OF_SERVICE and removed:
            instance.suppression = Suppression.NONE
        announcing.withdraw(desk, instance, at_s, reason, f"WATCHED NO MORE: {why}. ")
        desk.note("alert", f"{record.id} withdrawn: {why}", at_s)
        _forget(desk, slug, removed)
        return
    _resume(desk, instance, at_s, gap_known)


def _end_own_words(desk: Desk, at_s: float) -> None:
    """What the watch said of itself stands until its own cause is over, and who watches for the
    cause will say so. Of these the cause is here, and may have gone with an alert or a rule."""
    for instance in desk.of_rule(OWN_KIND):
        part = instance.record.subject.key.removeprefix("part:")
        if part.startswith(CHATTER):
            alert = desk.by_id.get(part.removeprefix(CHATTER))
            if alert is None or not alert.record.chattering:
                desk.own_words.append((own_verdict(part, False), at_s))
        elif part.startswith(SWAMPED):
            no_longer_swamped(desk, part.removeprefix(SWAMPED), at_s)
        elif part == SERVICE and not desk.out_of_service:
            desk.own_words.append((own_verdict(part, False), at_s))


def _forget(desk: Desk, slug: str, removed: bool) -> None:
    if removed:
        for instance in desk.by_rule.pop(slug, {}).values():
            desk.by_id.pop(instance.record.id, None)
            desk.timers.stop_all(instance.record.id)
        del desk.rules[slug]


def _rebuild(desk: Desk, slug: str, record: AlertRecord, shift_s: float) -> Instance:
    """The instance as it stood; its condition holds until data says otherwise."""
    record = msgspec.structs.replace(record)
    for name in _TIMES:
        value = getattr(record, name)
        if value is not None:
            setattr(record, name, round(value + shift_s, 3))
    record.raises = tuple(round(t + shift_s, 3) for t in record.raises)
    desk.next_number = max(desk.next_number, record.number + 1)
    instance = Instance(slug, record, desk.rules[slug])
    try:
        instance.phase = Phase(record.announcement)
    except ValueError:  # kept by a version that had only the flat state
        instance.phase = _PHASE_OF.get(record.state, Phase.NORMAL)
    if instance.phase is Phase.PENDING:
        instance.phase = Phase.NORMAL
    if record.state is State.SHELVED and record.shelved_until_s is not None:
        instance.suppression = Suppression.SHELVED
    elif slug in desk.out_of_service:
        instance.suppression = Suppression.OUT_OF_SERVICE
    proof = instance.proof
    if instance.phase in RAISED:
        proof.condition, proof.since_s = "true", record.since_s
    elif instance.phase is Phase.UNKNOWN:
        proof.condition = "unknown"
    blind = instance.phase in RAISED or instance.phase is Phase.UNKNOWN
    if blind and slug != OWN_KIND and not instance.is_event:
        proof.data_lost, proof.data_lost_s = True, record.data_lost_s or record.data_at_s
    record.chattering = record.chattering and instance.phase in RAISED
    record.restored, record.group = True, None
    return instance


def _resume(desk: Desk, instance: Instance, at_s: float, gap_known: bool) -> None:
    record = instance.record
    shelf_over = record.shelved_until_s is not None and (
        record.shelved_until_s <= at_s or not gap_known
    )
    if instance.suppression is Suppression.SHELVED and shelf_over:
        announcing.leave_quiet(desk, instance, Quiet.SHELF_OVER, at_s)
        return
    record.silenced_until_s = None
    taken_by = record.transferred_to
    desk.step(instance, Trigger.RESTART, at_s) if instance.phase is not Phase.NORMAL else (
        desk.settle(instance, at_s)
    )
    if instance.is_quiet or instance.phase in OVER:
        return
    if instance.phase in UNSEEN:
        announcing.resume(desk, instance, at_s)
        announcing.announce(desk, instance, "repeat", at_s)
    elif instance.phase is Phase.TRANSFERRED:
        record.transferred_to = taken_by
        due_s = round(at_s + 2 * desk.timings.heartbeat_s, 3)
        desk.timers.set("taker", record.id, due_s)
    if instance.phase in (Phase.ACK, Phase.TRANSFERRED):
        announcing.answered(desk, instance, at_s)
    desk.keep(instance)


def tell_gap(desk: Desk, at_s: float, gap_s: float | None, *, ends_s: float | None = None) -> None:
    """Nobody watched for a while: say so, and hold it until somebody has read it. None: for how
    long is not known, since the computer's clock was set back or lost meanwhile."""
    if desk.watch == "off" or (gap_s is not None and gap_s <= desk.timings.gap_alarm_s):
        return
    ends = desk.label(at_s if ends_s is None else ends_s)
    begins = None if gap_s is None else desk.label((at_s if ends_s is None else ends_s) - gap_s)
    facts = {
        "event": "gap",
        "from": None if begins is None else _moment(begins, ends),
        "to": ends[11:16],
        "rules": [desk.rules[s].name for s in desk.standing_since if s != OWN_KIND],
    }
    verdict = own_verdict("gap", True, facts, Priority.ALARM.label)
    desk.own_words.append((verdict, at_s))


def _moment(begins: str, ends: str) -> str:
    """'02:10', with its day where that is another one."""
    return begins[11:16] if begins[:10] == ends[:10] else f"{begins[:10]} {begins[11:16]}"
