"""From verdicts to steps: raise, rectify, worse, lost data, chatter. No state is set by hand.

What must never happen here: an active alert cleared because nothing was heard of it.
"""

from __future__ import annotations

from ..words.alert import OWN_SHIP, Priority
from ..words.verdict import Judgement, Verdict
from . import announcing, chatter
from .condition import Delays
from .desk import OWN_KIND, PER_TARGET, Desk, Instance, own_verdict
from .states import HELD, OVER, RAISED, Phase, Quiet, Suppression, Trigger, next_suppression

MOST_OF_RULE = 500  # alerts of one rule about ships (our decision)
SWAMPED = "swamped-"  # the word about it, before the rule's slug
SPENT_S = 3600.0  # a seen event of a target nobody speaks of any more is forgotten
LASTING_SUBJECTS = frozenset({"own", "part"})  # these can be unknown without an alert


def judged(desk: Desk, slug: str, judgement: Judgement, at_s: float) -> None:
    """Take in all that one rule says now."""
    if judgement.missing and not judgement.verdicts:
        _whole_rule_blind(desk, slug, judgement.missing, at_s)
        return
    desk.unknown.pop(slug, None)
    said = set()
    for verdict in judgement.verdicts:
        said.add(verdict.subject.key)
        take(desk, slug, verdict, at_s)
    no_longer_swamped(desk, slug, at_s)
    if len(desk.by_rule[slug]) <= len(said):
        return
    for instance in desk.of_rule(slug):
        if instance.record.subject.key in said:
            continue
        if instance.phase is Phase.UNKNOWN:
            _apply(desk, instance, instance.proof.judged(
                False, True, False, at_s, instance.delays, raised=False), at_s)  # fmt: skip
            desk.close_if_done(instance)
        elif instance.phase in HELD:
            lose_data(desk, instance, at_s)
        elif instance.record.spent and at_s - instance.record.changed_s > SPENT_S:
            desk.unspend(instance)
            desk.close_if_done(instance)


def take(desk: Desk, slug: str, verdict: Verdict, at_s: float) -> None:
    """One verdict on one subject."""
    instance = desk.get(slug, verdict.subject.key)
    if instance is None:
        if verdict.holds is False or (
            verdict.holds is None and verdict.subject.kind not in LASTING_SUBJECTS
        ):
            return
        if _is_swamped(desk, slug, verdict, at_s):
            return
        instance = desk.open(slug, verdict.subject)
    if verdict.holds is None:
        lose_data(desk, instance, at_s)
        if instance.phase is Phase.NORMAL:
            _turn_unknown(desk, instance, at_s)
        return
    if instance.record.spent:
        if verdict.holds and _is_same_event(instance, verdict):
            return
        desk.unspend(instance)
    _take_numbers(desk, instance, verdict)
    raised = instance.phase in RAISED
    delays = instance.delays
    if instance.record.chattering:
        longer_s = max(delays.clear_s, desk.timings.chatter_clear_s)
        delays = Delays(delays.confirm_s, longer_s)
    was_clearing = instance.proof.condition == "clearing"
    happened = instance.proof.judged(
        verdict.holds, verdict.is_gone, verdict.at_once, at_s, delays, raised
    )
    if was_clearing and verdict.holds and instance.record.chattering:
        instance.record.folded += 1
    _apply(desk, instance, happened, at_s)
    if raised and instance.phase in RAISED and verdict.holds:
        _maybe_worse(desk, instance, verdict, at_s)
    desk.settle(instance, at_s)
    desk.close_if_done(instance)


def _is_swamped(desk: Desk, slug: str, verdict: Verdict, at_s: float) -> bool:
    """Whether so many ships are raised by one rule that one more is not told by itself. The
    announcement of the rule stands; forged identities must not eat the memory."""
    held = len(desk.by_rule[slug])
    if held < MOST_OF_RULE or not is_per_target(desk, slug):
        return False
    name = desk.orders_of(slug).name
    facts = {"what": "swamped", "rule": name, "count": held}
    if desk.get(OWN_KIND, f"part:{SWAMPED}{slug}") is None:
        desk.own_words.append((own_verdict(f"{SWAMPED}{slug}", True, facts, "warning"), at_s))
    return True


def no_longer_swamped(desk: Desk, slug: str, at_s: float) -> None:
    """Ends the word about a rule that has room again, or none of whose alerts are left."""
    part = f"{SWAMPED}{slug}"
    told = desk.get(OWN_KIND, f"part:{part}") is not None
    if told and len(desk.by_rule.get(slug, ())) < MOST_OF_RULE // 2:
        desk.own_words.append((own_verdict(part, False), at_s))


def lose_data(desk: Desk, instance: Instance, at_s: float) -> None:
    """It cannot be judged now: an active or pending alert is only marked."""
    if instance.phase in (Phase.NORMAL, Phase.UNKNOWN):
        return
    happened = instance.proof.unknown(at_s, raised=instance.phase in RAISED)
    _apply(desk, instance, happened, at_s)
    desk.settle(instance, at_s)


def fire(desk: Desk, kind: str, instance: Instance, due_s: float) -> None:
    """A delay is over: 'on', 'off' or 'good'."""
    if kind == "on":
        happened = instance.proof.run_due("on")
    elif kind == "off":
        happened = instance.proof.run_due("off")
    else:
        happened = instance.proof.run_due("good")
    _apply(desk, instance, happened, due_s)
    desk.close_if_done(instance)


def _apply(desk: Desk, instance: Instance, happened: list[Trigger], at_s: float) -> None:
    for trigger in happened:
        if trigger is Trigger.RAISE:
            _raise(desk, instance, at_s)
        elif trigger is Trigger.RECTIFY:
            _rectify(desk, instance, at_s)
        elif instance.phase is not Phase.NORMAL or trigger is not Trigger.DATA_BACK:
            desk.step(instance, trigger, at_s)


def _raise(desk: Desk, instance: Instance, at_s: float) -> None:
    record = instance.record
    instance.cause = None
    if instance.phase in OVER:
        # What nobody has seen yet must not shrink to a caution.
        record.priority = max(record.priority, Priority.WARNING)
    record.occurrence += 1
    record.raised_s, record.cleared_s = at_s, None
    record.worse, record.worse_s, record.worse_revision = False, None, 0
    record.acknowledged_by = record.acknowledged_where = record.acknowledged_through = ""
    record.acknowledged_s, record.paged, record.restored = None, (), False
    record.level, record.urgent_s, record.stage_s, record.folded = 0, None, 0.0, 0
    if instance.worse_now:
        _go_beyond(instance, at_s)
    desk.step(instance, Trigger.RAISE, at_s)
    if record.worse:
        record.worse_revision = record.revision
    chatter.count(desk, instance, at_s)
    announcing.announce(desk, instance, "raised", at_s)


def _rectify(desk: Desk, instance: Instance, at_s: float) -> None:
    """The condition is over: the sound stops, the record stays until it is seen."""
    record = instance.record
    record.cleared_s = at_s
    desk.step(instance, Trigger.RECTIFY, at_s)
    announcing.tell_cleared(desk, instance, at_s)
    if instance.phase is Phase.NORMAL and record.shelved_one_shot:
        announcing.leave_quiet(desk, instance, Quiet.SHELF_OVER, at_s)


def _maybe_worse(desk: Desk, instance: Instance, verdict: Verdict, at_s: float) -> None:
    """A second limit, or the rule asks for more than it did: announced anew, always."""
    record = instance.record
    asked = Priority.from_label(verdict.priority) if verdict.priority else record.base_priority
    beyond = verdict.worse and not record.worse
    if asked <= record.priority and not beyond:
        return
    if asked > record.priority:
        record.priority = asked
    record.base_priority = max(record.base_priority, asked)
    if beyond:
        _go_beyond(instance, at_s)
    record.worse_s = at_s
    if record.priority is Priority.CAUTION:
        return  # worse, but still nothing that anybody need acknowledge
    if instance.suppression is Suppression.SHELVED:
        # Whoever shelved it had not seen this.
        next_suppression(instance.suppression, Quiet.WORSEN)
        instance.suppression = Suppression.NONE
        record.shelved_until_s, record.shelved_why, record.shelved_one_shot = None, "", False
    desk.step(instance, Trigger.WORSEN, at_s)
    record.worse_revision = record.revision
    lead = "" if instance.is_event else "WORSE. "
    announcing.announce(desk, instance, "raised", at_s, lead=lead)


def _is_same_event(instance: Instance, verdict: Verdict) -> bool:
    """Whether it is still only what somebody has acknowledged. One that fell silent in a zone,
    was seen to be so, and is heard there again has not come in anew."""
    before, now = instance.record.facts.get("event"), verdict.facts.get("event")
    return bool(before == now or (before == "lost" and now == "heard again"))


def _go_beyond(instance: Instance, at_s: float) -> None:
    """The second limit raises the priority by one, to an alarm at most. A target that is lost
    is told anew, but is no nearer."""
    record = instance.record
    record.worse, record.worse_s = True, at_s
    if record.priority < Priority.ALARM and record.facts.get("event") != "lost":
        record.priority = Priority(record.priority + 1)


def _take_numbers(desk: Desk, instance: Instance, verdict: Verdict) -> None:
    record = instance.record
    record.subject = verdict.subject
    record.value, record.limit, record.unit = verdict.value, verdict.limit, verdict.unit
    record.lat, record.lon, record.data_at_s = verdict.lat, verdict.lon, verdict.data_at_s
    if verdict.holds or (instance.phase not in RAISED and instance.phase not in OVER):
        record.facts = verdict.facts  # what is over keeps telling what it was
    record.drill = record.drill or bool(verdict.facts.get("drill"))
    instance.worse_now = verdict.worse and bool(verdict.holds)
    if instance.phase not in RAISED:
        label = verdict.priority or instance.orders.priority
        record.base_priority = Priority.from_label(label)
        if instance.phase not in OVER:
            record.priority = record.base_priority
            record.drill = bool(verdict.facts.get("drill"))
            record.call = verdict.call or instance.orders.call


def _whole_rule_blind(desk: Desk, slug: str, missing: tuple[str, ...], at_s: float) -> None:
    """Every open subject is unknown; the rule itself says so on its own-ship instance."""
    desk.unknown[slug] = missing
    for instance in desk.of_rule(slug):
        lose_data(desk, instance, at_s)
    own = desk.own_instance(slug)
    if own is None or own.phase is Phase.NORMAL:
        _turn_unknown(desk, own or desk.open(slug, OWN_SHIP), at_s)


def _turn_unknown(desk: Desk, instance: Instance, at_s: float) -> None:
    since_s = desk.standing_since.get(instance.slug, at_s)
    if at_s - since_s < desk.timings.start_grace_s:
        desk.close_if_done(instance)
        return
    instance.record.raised_s = instance.record.cleared_s = None
    happened = instance.proof.unknown(at_s, raised=False)
    _apply(desk, instance, happened, at_s)


def is_per_target(desk: Desk, slug: str) -> bool:
    """Whether the rule has an alert for each ship rather than one."""
    orders = desk.orders_of(slug)
    return orders.table in PER_TARGET and getattr(orders, "subject", "") != "own ship"
