"""The board: every alert instance, moved by verdicts, time and people. The core of the core.

Flow of one raise: a verdict starts the on-delay (condition.py); when it fires, the instance
takes a step in the table (states.py), gets its words (wording.py), is journalled (a Record
effect), sounds (sounding.py) and is told to the outlets (calling.py). Effects gather here in the
order in which they are to be done, and `drain` hands them over.

What must never happen here: a state set by hand instead of by `step`; a timer read from a
clock; an active alert cleared because nothing was heard of it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import msgspec

from ..words.alert import (
    ACTIVE,
    OWN_SHIP,
    AlertRecord,
    Priority,
    Reason,
    State,
    Subject,
    Transition,
)
from ..words.effects import Effect, Keep, Record, Reply, Show
from ..words.events import Command, OutletNews, StoreNews, WorkerNews
from ..words.orders import CallListEntry, OutletTable, RuleOrders, Vessel
from ..words.remembered import Remembered
from ..words.timing import duration_text
from ..words.verdict import Judgement, Verdict
from . import escalate, handling, wording
from .calling import Caller
from .condition import Condition, Due
from .naming import alert_id
from .sounding import wanted
from .states import PUBLISHED, Step, step
from .timers import Timers

START_GRACE_S = 10.0  # a rule may lack its input so long at first before it is told as unknown
CHATTER_SHORT, CHATTER_SHORT_S = 3, 60.0
CHATTER_LONG, CHATTER_LONG_S = 5, 600.0
GAP_TOLD_S = 60.0
CATEGORY_A = frozenset({"drag", "proximity", "depth"})

SELF = RuleOrders(name="watch", priority="warning", confirm_s=0.0, clear_s=0.0)


class Instance:
    """One record with its condition and its past raises."""

    __slots__ = ("calls_done", "condition", "facts_of", "last_raises", "record")

    def __init__(self, record: AlertRecord) -> None:
        self.record = record
        self.condition = Condition(record)
        self.last_raises: list[float] = []
        self.calls_done = 0
        self.facts_of: Verdict | None = None


class Board:
    """See the module's first lines."""

    def __init__(
        self,
        *,
        rules: Mapping[str, RuleOrders],
        call_list: Sequence[CallListEntry],
        outlets: Sequence[OutletTable],
        vessel: Vessel,
        label: Callable[[float], str],
    ) -> None:
        self.rules: dict[str, RuleOrders] = {**rules, "self": SELF, "chatter": SELF}
        self.label = label
        self.vessel = vessel
        self.timers = Timers()
        self.caller = Caller(outlets, label)
        self.calls = escalate.stages(call_list)
        self.watch, self.crew = "off", "aboard"
        self.fresh = 0
        self._by_id: dict[str, Instance] = {}
        self._by_rule: dict[str, dict[str, Instance]] = {slug: {} for slug in self.rules}
        self._next_number = 1
        self._stands_since: dict[str, float] = {}
        self._effects: list[Effect] = []
        self._changed = False
        self._outlet_up: dict[str, tuple[bool, str]] = {}

    # -- what the engine asks ---------------------------------------------------------------

    def judged(self, slug: str, judgement: Judgement, at_s: float) -> None:
        """Take in what one rule says now."""
        mine = self._by_rule[slug]
        if judgement.missing:
            for instance in list(mine.values()):
                self._blind(instance, at_s)
            self._whole_rule_blind(slug, at_s)
            return
        for verdict in judgement.verdicts:
            self._verdict(slug, verdict, at_s)
        self._whole_rule_sighted(slug, at_s)
        if len(mine) > len(judgement.verdicts):
            said = {verdict.subject.key for verdict in judgement.verdicts}
            for key, instance in list(mine.items()):
                if key not in said:
                    self._unsaid(instance, at_s)

    def set_watch(self, watch: str, crew: str, at_s: float) -> None:
        """Another watch, or another crew. Alerts of rules that stand no longer are withdrawn,
        each with its own line."""
        self.watch, self.crew = watch, crew
        for slug, orders in self.rules.items():
            if slug in ("self", "chatter") or watch in orders.watches:
                if slug not in self._stands_since:
                    self._stands_since[slug] = at_s
                continue
            self._stands_since.pop(slug, None)
            for instance in list(self._by_rule[slug].values()):
                self._withdraw(instance, at_s)
        self._changed = True

    def command(self, command: Command) -> Reply:
        """Acknowledge, silence, shelve and the like; see handling.py."""
        return handling.obey(self, command)

    def news(self, event: OutletNews | StoreNews | WorkerNews, at_s: float) -> None:
        """A part of the watch itself failed or works again: a warning or caution of its own."""
        if isinstance(event, OutletNews):
            self._outlet_up[event.outlet] = (event.up, event.why)
            key, what, ok, priority = f"outlet-{event.outlet}", event.outlet, event.up, "warning"
        elif isinstance(event, StoreNews):
            key, what, ok, priority = "store", "the store", event.ok, "caution"
        else:
            key, what, ok, priority = f"worker-{event.worker}", event.worker, event.ok, "caution"
        self._verdict(
            "self",
            Verdict(
                subject=Subject(f"part:{key}", "part", what),
                holds=not ok,
                priority=priority,
                facts={"what": what, "why": event.why},
            ),
            at_s,
        )
        self.run_due(at_s)

    def next_due(self) -> float | None:
        first = self.timers.next()
        return None if first is None else first[0]

    def run_due(self, at_s: float) -> None:
        """Fire what is due up to `at_s`, in order, each with its own due time."""
        while (first := self.timers.next()) is not None and first[0] <= at_s:
            due_s, (alert, what) = first
            self.timers.set(alert, what, None)
            instance = self._by_id.get(alert)
            if instance is not None:
                _FIRE[what](self, instance, due_s)

    def drain(self) -> list[Effect]:
        """Everything to be done, in order: sound first, then the rows, then the messages."""
        if not (self._effects or self._changed or self.caller.waiting):
            return []
        effects, self._effects = self._effects, []
        if self._changed:
            self._changed = False
            records = [i.record for i in self._by_id.values()]
            blind = any(r.state is State.UNKNOWN for r in records)
            effects.insert(0, wanted(records, self.fresh, self.crew, blind))
            shown = tuple(
                msgspec.structs.replace(r) for r in records if r.state is not State.NORMAL
            )
            effects.append(
                Show(at="", watch=self.watch, crew=self.crew, alerts=shown,
                     watching=self.watch != "off")
            )  # fmt: skip
        effects += self.caller.take()
        return effects

    def open_keys(self, slug: str) -> frozenset[str]:
        """Subjects with an alert or something pending."""
        mine = self._by_rule[slug]
        if not mine:
            return frozenset()
        return frozenset(k for k, i in mine.items() if _is_open(i.record))

    def records(self) -> list[AlertRecord]:
        return [instance.record for instance in self._by_id.values()]

    def find(self, text: str) -> AlertRecord | str:
        """By id, number or unambiguous beginning; or why not."""
        found = self.lookup(text)
        return found if isinstance(found, str) else found.record

    def instances(self) -> list[Instance]:
        return list(self._by_id.values())

    def keep(self, effect: Keep) -> None:
        self._effects.append(effect)

    def outlet_states(self) -> list[dict[str, Any]]:
        return [
            {
                "name": table.name,
                "kind": type(table).__name__,
                "from_priority": table.from_priority,
                "up": self._outlet_up.get(table.name, (None, ""))[0],
                "why": self._outlet_up.get(table.name, (None, ""))[1],
            }
            for table in self.caller.outlets
        ]

    def restore(self, remembered: Remembered, at_s: float, gap_s: float | None) -> None:
        """Take up the alerts of an earlier run. What stood unanswered sounds again now."""
        self._next_number = max(self._next_number, remembered.next_number)
        for kept in remembered.alerts:
            slug = kept.id.partition(":")[0]
            if slug not in self.rules:
                self._orphan(kept, at_s)
                continue
            self._adopt(slug, kept, at_s)
        if gap_s is not None and gap_s > GAP_TOLD_S and self.watch != "off":
            self._gap(at_s - gap_s, at_s)

    # -- verdicts ---------------------------------------------------------------------------

    def _verdict(self, slug: str, verdict: Verdict, at_s: float) -> None:
        instance = self._by_rule[slug].get(verdict.subject.key)
        if instance is None:
            if not verdict.holds:
                return
            instance = self._new(slug, verdict.subject)
        orders = self.rules[slug]
        record = instance.record
        self._numbers(instance, orders, verdict, at_s)
        if record.state is State.UNKNOWN and verdict.holds is not None:
            self.step(instance, Step.SIGHTED, Reason.CONDITION, at_s)
        before = record.condition
        instance.condition.judge(verdict, orders.confirm_s, orders.clear_s, at_s)
        self.timers.set(record.id, "condition", instance.condition.due_s)
        if record.condition == "true" and record.state in ACTIVE:
            self._maybe_worse(instance, verdict, at_s)
        if record.condition != before and record.state is not State.NORMAL:
            self._effects.append(Keep(alert=msgspec.structs.replace(record)))
        if not _is_open(record) and record.state is State.NORMAL:
            self._forget_quietly(slug, instance)

    def _numbers(
        self, instance: Instance, orders: RuleOrders, verdict: Verdict, at_s: float
    ) -> None:
        record = instance.record
        instance.facts_of = verdict
        record.subject = verdict.subject
        record.value, record.limit, record.unit = verdict.value, verdict.limit, verdict.unit
        record.lat, record.lon = verdict.lat, verdict.lon
        record.data_at_s = verdict.data_at_s
        record.facts = verdict.facts
        if record.state not in ACTIVE:
            label = verdict.priority or orders.priority
            record.base_priority = record.priority = Priority.from_label(label)
        elif verdict.priority is not None:
            asked = Priority.from_label(verdict.priority)
            if asked > record.priority and verdict.holds:
                record.base_priority = record.priority = asked
                self.step(instance, Step.ESCALATE, Reason.WORSE, at_s, again=True)

    def _maybe_worse(self, instance: Instance, verdict: Verdict, at_s: float) -> None:
        record = instance.record
        if not verdict.worse or record.worse:
            return
        record.worse, record.worse_s = True, at_s
        self.step(instance, Step.WORSE, Reason.WORSE, at_s, again=True)

    def _unsaid(self, instance: Instance, at_s: float) -> None:
        """An open subject that the rule did not speak of: unknown, never gone."""
        if _is_open(instance.record):
            instance.condition.blind()
            self.timers.set(instance.record.id, "condition", instance.condition.due_s)

    def _blind(self, instance: Instance, at_s: float) -> None:
        record = instance.record
        was_lost = record.data_lost
        instance.condition.blind()
        self.timers.set(record.id, "condition", instance.condition.due_s)
        if record.data_lost and not was_lost:
            self._effects.append(Keep(alert=msgspec.structs.replace(record)))
            self._changed = True

    def _whole_rule_blind(self, slug: str, at_s: float) -> None:
        """The rule cannot be judged: its own-ship instance says so, once, after a grace."""
        since = self._stands_since.get(slug, at_s)
        if at_s - since < START_GRACE_S:
            return
        instance = self._by_rule[slug].get(OWN_SHIP.key)
        if instance is None:
            instance = self._new(slug, OWN_SHIP)
            orders = self.rules[slug]
            instance.record.base_priority = instance.record.priority = Priority.from_label(
                orders.priority
            )
            instance.condition.blind()
        if instance.record.state is State.NORMAL:
            self.step(instance, Step.BLIND, Reason.DATA_LOST, at_s)

    def _whole_rule_sighted(self, slug: str, at_s: float) -> None:
        """It can be judged again, though nothing is said of own ship."""
        instance = self._by_rule[slug].get(OWN_SHIP.key)
        if instance is not None and instance.record.state is State.UNKNOWN:
            instance.record.condition = "false"
            self.step(instance, Step.SIGHTED, Reason.CONDITION, at_s)

    # -- timers -----------------------------------------------------------------------------

    def fire_condition(self, instance: Instance, at_s: float) -> None:
        due = instance.condition.fire(at_s)
        if due is Due.RAISE:
            self._raise(instance, at_s)
        elif due is Due.CLEAR:
            self.rectify(instance, at_s)

    def fire_silence(self, instance: Instance, at_s: float) -> None:
        instance.record.silenced_until_s = None
        if instance.record.state is State.SILENCED:
            self.step(instance, Step.SILENCE_OVER, Reason.SILENCE_OVER, at_s, again=True)

    def fire_escalate(self, instance: Instance, at_s: float) -> None:
        """A warning that nobody answered becomes an alarm."""
        record = instance.record
        if record.state not in (State.UNACKNOWLEDGED, State.SILENCED):
            return
        if record.priority is Priority.WARNING:
            record.priority = Priority.ALARM
            self.step(instance, Step.ESCALATE, Reason.ESCALATION, at_s, again=True)
            self._first_call(instance, at_s)

    def fire_call(self, instance: Instance, at_s: float) -> None:
        """The next people are called; never ends by itself while it is true and unanswered."""
        record = instance.record
        if record.state not in (State.UNACKNOWLEDGED, State.SILENCED):
            return
        call = escalate.next_call(self.calls, instance.calls_done)
        instance.calls_done += 1
        record.level = call.level
        if record.group is None and record.shelved_until_s is None:
            self._words(instance, at_s)
            self.caller.repeat(record, call.who, at_s)
        self._effects.append(Keep(alert=msgspec.structs.replace(record)))
        self._changed = True
        following = escalate.next_call(self.calls, instance.calls_done)
        self.timers.set(record.id, "call", round(at_s + following.after_s - call.after_s, 3))

    def fire_still(self, instance: Instance, at_s: float) -> None:
        """Acknowledged long ago and still true: told again."""
        record = instance.record
        if record.state is not State.ACKNOWLEDGED:
            return
        if record.data_lost or record.condition != "true":
            self.timers.set(record.id, "still", at_s + escalate.STILL_TRUE_S)
            return
        self.step(instance, Step.REPEAT, Reason.ESCALATION, at_s, again=True)

    def fire_shelf(self, instance: Instance, at_s: float) -> None:
        handling.unshelve(self, instance, at_s)

    # -- steps ------------------------------------------------------------------------------

    def _raise(self, instance: Instance, at_s: float) -> None:
        record = instance.record
        if record.state in ACTIVE:
            return
        folded = self._folds(instance, at_s)
        if not folded:
            record.occurrence += 1
            record.folded = 0
        record.raised_s, record.cleared_s = at_s, None
        record.worse, record.worse_s = False, None
        record.acknowledged_by = record.acknowledged_where = record.acknowledged_through = ""
        record.acknowledged_s, record.paged = None, ()
        record.category = "A" if record.kind in CATEGORY_A else "B"
        record.level = instance.calls_done = 0
        what = Step.RAISE_CAUTION if record.priority is Priority.CAUTION else Step.RAISE
        self._group(instance)
        self.step(instance, what, Reason.CONDITION, at_s, again=record.group is None)

    def rectify(self, instance: Instance, at_s: float) -> None:
        """The condition is over; sound stops, the record stays until it is seen."""
        record = instance.record
        if record.state not in ACTIVE:
            return
        record.cleared_s = at_s
        latch = self.rules[record.id.partition(":")[0]].latch
        what = Step.LATCH if latch and record.state is not State.ACTIVE else Step.RECTIFY
        self.step(instance, what, Reason.CONDITION, at_s)

    def _withdraw(self, instance: Instance, at_s: float) -> None:
        record = instance.record
        if record.state is not State.NORMAL:
            record.cleared_s = at_s
            self.step(instance, Step.WITHDRAW, Reason.WATCH, at_s)
        self._drop(instance)

    def step(
        self, instance: Instance, what: Step, reason: Reason, at_s: float, *, again: bool = False
    ) -> None:
        """The one way from state to state. `again`: it is announced anew."""
        record = instance.record
        before = record.state
        record.state = step(before, what)
        record.changed_s = at_s
        record.revision = record.revision % 99 + 1
        self._words(instance, at_s)
        self._set_timers(instance, before, at_s)
        if again and record.shelved_until_s is None:
            self.fresh += 1
        self.journal(instance, before, reason, at_s)
        self.caller.stepped(record, before, what, at_s)
        if record.state is State.NORMAL:
            self._over(instance)

    def journal(self, instance: Instance, before: State, reason: Reason, at_s: float) -> None:
        """The transition as a line, and the record as it now stands."""
        record = instance.record
        shown_from, shown_to = PUBLISHED.get(before, before), self.shown(record)
        self._changed = True
        self._effects.append(
            Record(
                at_s=at_s,
                transition=Transition(
                    at=self.label(at_s),
                    alert=record.id,
                    kind=record.kind,
                    rule=record.rule,
                    subject=record.subject.name,
                    mmsi=record.subject.mmsi,
                    occurrence=record.occurrence,
                    priority=record.priority.label,
                    from_=shown_from,
                    to=shown_to,
                    reason=reason,
                    value=record.value,
                    limit=record.limit,
                    unit=record.unit,
                    lat=record.lat,
                    lon=record.lon,
                    text=record.text,
                ),
                alert=msgspec.structs.replace(record),
            )
        )

    @staticmethod
    def shown(record: AlertRecord) -> State:
        """The state that is published: shelved lies over what goes on below."""
        if record.shelved_until_s is not None:
            return State.SHELVED
        return PUBLISHED.get(record.state, record.state)

    def _set_timers(self, instance: Instance, before: State, at_s: float) -> None:
        record, timers = instance.record, self.timers
        if record.state is State.UNACKNOWLEDGED and before not in (
            State.UNACKNOWLEDGED,
            State.SILENCED,
        ):
            if record.priority is Priority.WARNING:
                timers.set(record.id, "escalate", at_s + escalate.WARNING_TO_ALARM_S)
            self._first_call(instance, at_s)
        if record.state not in (State.UNACKNOWLEDGED, State.SILENCED):
            for what in ("escalate", "call", "silence"):
                timers.set(record.id, what, None)
            record.silenced_until_s = None
        if record.state is State.ACKNOWLEDGED:
            record.priority = record.base_priority  # somebody has it: the raised urgency is over
        still = record.state is State.ACKNOWLEDGED and record.priority >= Priority.ALARM
        timers.set(record.id, "still", at_s + escalate.STILL_TRUE_S if still else None)

    def _first_call(self, instance: Instance, at_s: float) -> None:
        record = instance.record
        if record.priority < Priority.ALARM:
            return
        instance.calls_done = 0
        first = escalate.next_call(self.calls, 0)
        self.timers.set(record.id, "call", round(at_s + first.after_s, 3))

    def _words(self, instance: Instance, at_s: float) -> None:
        record = instance.record
        orders = self.rules[record.id.partition(":")[0]]
        said = wording.words_of(record.kind, orders, record.facts)
        active = record.raised_s is not None and record.condition in ("true", "clearing")
        age = None if record.data_at_s is None else round(max(0.0, at_s - record.data_at_s), 1)
        record.title = said.title
        text = wording.body(
            said,
            orders,
            raised=self.label(record.raised_s) if active and record.raised_s else None,
            held_s=at_s - record.raised_s if active and record.raised_s else None,
            data_age_s=age,
            data_lost=record.data_lost,
        )
        if record.state is State.UNKNOWN:
            text = f'Order "{orders.name}" cannot be judged: data is lost. Look for yourself.'
        elif record.state in (State.NORMAL, State.RECTIFIED) and record.raised_s is not None:
            lasted = (record.cleared_s or at_s) - record.raised_s
            text = f"Cleared after {duration_text(lasted)}. {said.line}."
        lead = "DRILL. " if record.drill else "Restored after restart. " if record.restored else ""
        folded = f" Came {record.folded + 1} times." if record.folded else ""
        record.text = lead + text + folded

    # -- chatter and groups -------------------------------------------------------------------

    def _folds(self, instance: Instance, at_s: float) -> bool:
        """Whether this raise is one of a chatter: it counts on the same occurrence."""
        raises = instance.last_raises
        raises.append(at_s)
        while raises and at_s - raises[0] >= CHATTER_LONG_S:
            del raises[0]
        short = sum(1 for t in raises if at_s - t < CHATTER_SHORT_S)
        chatters = short >= CHATTER_SHORT or len(raises) >= CHATTER_LONG
        record = instance.record
        if not chatters:
            return False
        record.folded += 1
        self._verdict(
            "chatter",
            Verdict(
                subject=Subject(f"part:{record.id}", "part", record.rule),
                holds=True,
                priority="caution",
                facts={"alert": record.id, "count": len(raises)},
            ),
            at_s,
        )
        return True

    def _group(self, instance: Instance) -> None:
        """Let another alert speak for this one: the same order, or the same ship, more urgent."""
        record = instance.record
        record.group = None
        if record.kind not in ("zone", "proximity"):
            return
        for other in self._by_id.values():
            leader = other.record
            if leader is record or leader.group is not None or leader.state not in ACTIVE:
                continue
            same_order = leader.rule == record.rule and leader.state in (
                State.UNACKNOWLEDGED,
                State.SILENCED,
            )
            same_ship = (
                leader.subject.key == record.subject.key
                and leader.kind in ("zone", "proximity")
                and leader.priority >= record.priority
            )
            if same_order or same_ship:
                record.group = leader.id
                return

    def members(self, leader: AlertRecord) -> list[Instance]:
        return [i for i in self._by_id.values() if i.record.group == leader.id]

    def _ungroup(self, leader: AlertRecord) -> None:
        """A leader that is over speaks for nobody: the next one takes its place."""
        rest = self.members(leader)
        first: AlertRecord | None = None
        for instance in rest:
            if first is None and instance.record.state in ACTIVE:
                first = instance.record
                first.group = None
            else:
                instance.record.group = first.id if first is not None else None

    # -- instances ----------------------------------------------------------------------------

    def _new(self, slug: str, subject: Subject) -> Instance:
        orders = self.rules[slug]
        kind = slug if slug in ("self", "chatter") else orders.table
        record = AlertRecord(
            id=alert_id(slug, subject),
            number=self._next_number,
            kind=kind,
            rule=orders.name,
            subject=subject,
            call=orders.call,
        )
        self._next_number += 1
        instance = Instance(record)
        self._by_id[record.id] = self._by_rule[slug][subject.key] = instance
        return instance

    def _over(self, instance: Instance) -> None:
        """Back to normal: it speaks for nobody, and its handling is forgotten."""
        record = instance.record
        self._ungroup(record)
        record.group, record.level, record.data_lost = None, 0, False
        record.restored = False
        self.timers.set(record.id, "still", None)

    def _forget_quietly(self, slug: str, instance: Instance) -> None:
        """An instance without an alert, past or pending, need not be kept."""
        if instance.record.occurrence == 0 and instance.record.shelved_until_s is None:
            self._drop(instance)

    def _drop(self, instance: Instance) -> None:
        record = instance.record
        self.timers.drop(record.id)
        self._by_id.pop(record.id, None)
        self._by_rule[record.id.partition(":")[0]].pop(record.subject.key, None)

    def lookup(self, text: str) -> Instance | str:
        """The instance that a person means, or why there is none."""
        if text in self._by_id:
            return self._by_id[text]
        for instance in self._by_id.values():
            if str(instance.record.number) == text:
                return instance
        near = [i for key, i in self._by_id.items() if key.startswith(text)]
        if len(near) == 1:
            return near[0]
        standing = [i.record.id for i in self._by_id.values() if i.record.state is not State.NORMAL]
        return f'no alert "{text}"; standing: {", ".join(standing) or "none"}'

    # -- restart ------------------------------------------------------------------------------

    def _adopt(self, slug: str, kept: AlertRecord, at_s: float) -> None:
        instance = Instance(kept)
        kept.data_lost = kept.state in ACTIVE
        kept.restored = True
        kept.group = None
        if kept.condition in ("pending", "clearing"):
            kept.condition = "true" if kept.state in ACTIVE else "false"
        if kept.state is State.UNKNOWN:
            return
        self._by_id[kept.id] = self._by_rule[slug][kept.subject.key] = instance
        if self.watch not in self.rules[slug].watches and slug not in ("self", "chatter"):
            self._withdraw(instance, at_s)
            return
        self.step(instance, Step.RESTART, Reason.RESTART, at_s, again=True)
        if kept.state is State.UNACKNOWLEDGED:
            if kept.priority is Priority.WARNING:
                self.timers.set(kept.id, "escalate", at_s + escalate.WARNING_TO_ALARM_S)
            self._first_call(instance, at_s)
        if kept.shelved_until_s is not None:
            self.timers.set(kept.id, "shelf", max(at_s, kept.shelved_until_s))

    def _orphan(self, kept: AlertRecord, at_s: float) -> None:
        """Its rule is in the orders no longer: withdrawn with a line, not lost in silence."""
        slug = kept.id.partition(":")[0]
        self.rules[slug] = RuleOrders(name=kept.rule)
        self._by_rule[slug] = {}
        instance = Instance(kept)
        self._by_id[kept.id] = self._by_rule[slug][kept.subject.key] = instance
        if kept.state is State.NORMAL:
            self._drop(instance)
        else:
            self._withdraw(instance, at_s)
        del self.rules[slug], self._by_rule[slug]

    def _gap(self, from_s: float, to_s: float) -> None:
        """Nobody watched for a while: say so, and hold it until somebody has read it."""
        standing = [o.name for s, o in self.rules.items() if s in self._stands_since]
        slug = "feed" if "feed" in self.rules else "self"
        subject = Subject("part:gap", "part", "monitoring gap")
        instance = self._by_rule[slug].get(subject.key) or self._new(slug, subject)
        record = instance.record
        record.kind = "feed"
        record.base_priority = record.priority = Priority.ALARM
        record.facts = {
            "event": "gap",
            "from": self.label(from_s)[11:16],
            "to": self.label(to_s)[11:16],
            "rules": standing,
        }
        record.condition, record.since_s = "true", from_s
        if record.state not in ACTIVE:
            self._raise(instance, to_s)


def _is_open(record: AlertRecord) -> bool:
    return record.state is not State.NORMAL or record.condition not in ("false", "unknown")


_FIRE: dict[str, Callable[[Board, Instance, float], None]] = {
    "condition": Board.fire_condition,
    "silence": Board.fire_silence,
    "escalate": Board.fire_escalate,
    "call": Board.fire_call,
    "still": Board.fire_still,
    "shelf": Board.fire_shelf,
}
