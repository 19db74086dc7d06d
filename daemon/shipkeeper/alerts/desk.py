"""The desk: every alert instance and all that the parts of alert handling share.

The parts (judging, escalate, speaking, calling, commands, restart, own) are functions over it;
`step` is the one way from phase to phase, and takes it from the table in states.py.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Literal

import msgspec

from ..words.alert import OWN_SHIP, AlertRecord, Priority, Reason, State, Subject, Transition
from ..words.effects import Keep, Note, Record
from ..words.orders import CallListEntry, OutletTable, RuleOrders
from ..words.verdict import Verdict
from . import describing
from .condition import Delays, Proof
from .naming import alert_id
from .routing import Routes
from .states import (
    RAISED,
    UNSEEN,
    Phase,
    Row,
    Suppression,
    Trigger,
    find_row,
    flat,
    published,
)
from .timers import Timers
from .timings import Timings

CATEGORY_A = frozenset({"drag", "proximity", "depth"})  # it takes a picture to judge these
PER_TARGET = frozenset({"zone", "proximity", "distress"})
# Left a zone, lost from sight, not watched for a time: these end when somebody has seen them
# (lost: IMO MSC.192(79) 5.29.5, on new data or on acknowledgement).
EVENTS = frozenset({"left", "lost", "gap"})
PAST_MAX = 1000  # closed alerts remembered by name, so that a late answer can be refused
OWN_KIND = "self"  # alerts about the watch itself
CHATTER = "chatter-"  # the caution about an alert that comes and goes, before its id

# Always standing: the watch's own alerts belong to no order.
SELF_ORDERS = RuleOrders(name="watch", priority="warning", confirm_s=0.0, clear_s=0.0)

NewsKind = Literal["raised", "repeat", "acknowledged", "cleared"]


class Instance:
    """One rule and one subject: the record that is published, and what proves it."""

    __slots__ = (
        "cause",
        "delays",
        "fresh",
        "latch",
        "orders",
        "phase",
        "proof",
        "record",
        "slug",
        "suppression",
        "worse_now",
    )

    def __init__(self, slug: str, record: AlertRecord, orders: RuleOrders) -> None:
        self.slug = slug
        self.record = record
        self.orders = orders
        self.latch = orders.latch
        self.delays = Delays(orders.confirm_s, orders.clear_s)
        self.proof = Proof()
        self.phase = Phase.NORMAL
        self.suppression = Suppression.NONE
        self.worse_now = False  # the latest verdict is beyond the second limit
        self.fresh = False  # announced anew, and not told yet
        self.cause: str | None = None  # id of the alert of another rule that speaks for it

    @property
    def is_event(self) -> bool:
        """Stands until it is seen, since nothing will end it by itself."""
        return self.record.facts.get("event") in EVENTS

    @property
    def traits(self) -> frozenset[str]:
        return frozenset(
            (
                "loud" if self.record.priority > Priority.CAUTION else "caution",
                "latch" if self.latch else "free",
                "event" if self.is_event else "lasting",
                "lost" if self.proof.data_lost else "",
            )
        )

    @property
    def is_quiet(self) -> bool:
        """Its outputs are held by a person's word."""
        return self.suppression is not Suppression.NONE

    @property
    def is_unseen(self) -> bool:
        """It calls for an answer now."""
        return self.phase in UNSEEN and not self.is_quiet

    @property
    def is_open(self) -> bool:
        """A verdict is due even when nothing holds any more."""
        held = self.phase in RAISED or self.proof.condition == "pending"
        return held or self.record.spent


class News(msgspec.Struct):
    """Something that people are told of, by calling.py, at the end of the moment."""

    instance: Instance
    kind: NewsKind
    at_s: float
    lead: str = ""
    who: tuple[str, ...] | None = None  # None: as the orders route it
    others: tuple[AlertRecord, ...] = ()  # told with it


class Desk:
    """Shared state; see the module's first lines."""

    def __init__(
        self,
        rules: Mapping[str, RuleOrders],
        outlets: Sequence[OutletTable],
        call_list: Sequence[CallListEntry],
        label: Callable[[float], str],
        timings: Timings,
        utc: Callable[[float], float | None] = lambda at_s: at_s,
    ) -> None:
        self.rules: dict[str, RuleOrders] = {**rules, OWN_KIND: SELF_ORDERS}
        self.routes = Routes(outlets, call_list, timings)
        self.label = label
        self.timings = timings
        self.utc = utc
        self.timers = Timers()
        self.watch, self.crew = "off", "aboard"
        self.standing_since: dict[str, float] = {OWN_KIND: 0.0}
        self.unknown: dict[str, tuple[str, ...]] = {}  # slug -> what it lacks
        self.out_of_service: dict[str, str] = {}  # slug -> why
        self.by_id: dict[str, Instance] = {}
        self.by_rule: dict[str, dict[str, Instance]] = {slug: {} for slug in self.rules}
        self.past: dict[tuple[str, str], Instance] = {}
        self.occurrences: dict[str, int] = {}  # of alerts of earlier runs that are over
        self.next_number = 1
        self.click, self.clicks = "", 0  # the latest answer to a person aboard, how many so far
        self.fresh = 0  # grows with every new announcement
        # what this moment brought, until it is drained
        self.lines: list[Record] = []
        self.notes: list[Note] = []
        self.news: list[News] = []
        self.own_words: list[tuple[Verdict, float]] = []  # of the watch about itself
        self.kept: dict[str, Instance] = {}
        self.changed = False

    # -- instances ---------------------------------------------------------------------------

    def orders_of(self, slug: str) -> RuleOrders:
        return self.rules[slug]

    def get(self, slug: str, subject_key: str) -> Instance | None:
        return self.by_rule[slug].get(subject_key)

    def open(self, slug: str, subject: Subject) -> Instance:
        """The instance, taken back from the past or made new."""
        found = self.by_rule[slug].get(subject.key)
        if found is not None:
            return found
        instance = self.past.pop((slug, subject.key), None) or self._new(slug, subject)
        self.by_id[instance.record.id] = self.by_rule[slug][subject.key] = instance
        return instance

    def _new(self, slug: str, subject: Subject) -> Instance:
        orders = self.rules[slug]
        priority = Priority.from_label(orders.priority)
        name = alert_id(slug, subject)
        if name in self.by_id:  # another subject's key has the same tail
            name = f"{name}-{subject.kind}"
        kind = OWN_KIND if slug == OWN_KIND else orders.table
        record = AlertRecord(
            id=name,
            number=0,
            kind=kind,
            rule=orders.name,
            subject=subject,
            base_priority=priority,
            priority=priority,
            call=orders.call,
            category="A" if kind in CATEGORY_A else "B",
            announcement=Phase.NORMAL,
            occurrence=self.occurrences.pop(name, 0),
        )
        instance = Instance(slug, record, orders)
        if slug in self.out_of_service:
            instance.suppression = Suppression.OUT_OF_SERVICE
        return instance

    def close_if_done(self, instance: Instance) -> None:
        """Nothing stands any more: it goes to the past."""
        if (
            instance.phase is Phase.NORMAL
            and instance.suppression is Suppression.NONE
            and not instance.record.spent
        ):
            record = instance.record
            self.timers.stop_all(record.id)
            self.by_id.pop(record.id, None)
            self.by_rule[instance.slug].pop(record.subject.key, None)
            if record.number:
                self.past[instance.slug, record.subject.key] = instance
                if len(self.past) > PAST_MAX:
                    del self.past[next(iter(self.past))]

    def of_rule(self, slug: str) -> list[Instance]:
        return list(self.by_rule[slug].values())

    def everything(self) -> list[Instance]:
        return list(self.by_id.values())

    def unseen(self) -> Iterator[Instance]:
        return (instance for instance in self.by_id.values() if instance.is_unseen)

    def give_number(self, instance: Instance) -> None:
        if instance.record.number == 0:
            instance.record.number = self.next_number
            self.next_number += 1

    # -- steps -------------------------------------------------------------------------------

    def step(
        self, instance: Instance, trigger: Trigger, at_s: float, reason: Reason | None = None
    ) -> Row:
        """Take one step of the table; raises states.Refused when there is none."""
        row = find_row(instance.phase, trigger, instance.traits)
        before = instance.record.state
        instance.phase = row.to
        if instance.record.chattering and row.to not in RAISED:
            self.chatter_over(instance, at_s)
        self.settle(instance, at_s)
        after = instance.record.state
        if after is not before or (row.logged and not instance.is_quiet):
            self.journal(instance, before, reason or row.reason, at_s)
        elif row.phase is not Phase.PENDING and row.to is not Phase.PENDING:
            self.keep(instance)
        return row

    def suppress(
        self, instance: Instance, suppression: Suppression, reason: Reason, at_s: float
    ) -> None:
        before = instance.record.state
        instance.suppression = suppression
        self.settle(instance, at_s)
        if instance.record.state is not before:
            self.journal(instance, before, reason, at_s)

    def settle(self, instance: Instance, at_s: float) -> None:
        """Bring the record and the timers in line with phase and proof."""
        record, proof, timers = instance.record, instance.proof, self.timers
        record.state = flat(instance.phase, instance.suppression)
        record.announcement, record.suppression = instance.phase, instance.suppression
        record.condition, record.since_s = proof.condition, proof.since_s
        record.data_lost, record.data_lost_s = proof.data_lost, proof.data_lost_s
        timers.set("on", record.id, proof.on_due_s)
        timers.set("off", record.id, proof.off_due_s)
        timers.set("good", record.id, proof.good_due_s)
        if instance.phase not in UNSEEN:
            timers.set("escalate", record.id, None)
            timers.set("people", record.id, None)
            record.group = None
        if instance.phase not in (Phase.SILENCED, Phase.TRANSFERRED):
            record.silenced_until_s = None
        timers.set("silence", record.id, record.silenced_until_s)
        if instance.phase is not Phase.TRANSFERRED:
            record.transferred_to = ""
            timers.set("taker", record.id, None)
        if instance.phase not in (Phase.ACK, Phase.TRANSFERRED):
            timers.set("still", record.id, None)
        timers.set("shelf", record.id, record.shelved_until_s)

    def journal(self, instance: Instance, before: State, reason: Reason, at_s: float) -> None:
        """The transition as a line, with the record as it now stands."""
        record = instance.record
        self.give_number(instance)
        record.changed_s = at_s
        record.revision += 1
        self.describe(instance, at_s)
        if record.state is State.NORMAL and reason in (Reason.WATCH, Reason.RESTART):
            describing.describe_end(record, instance.orders, at_s)
        self.changed = True
        self.kept.pop(record.id, None)
        transition = Transition(
            at=self.label(at_s),
            alert=record.id,
            kind=record.kind,
            rule=record.rule,
            subject=record.subject.name,
            mmsi=record.subject.mmsi,
            occurrence=record.occurrence,
            priority=record.priority.label,
            from_=published(before),
            to=published(record.state),
            reason=reason,
            value=record.value,
            limit=record.limit,
            unit=record.unit,
            lat=record.lat,
            lon=record.lon,
            text=record.text,
        )
        self.lines.append(Record(at_s=at_s, transition=transition, alert=copy_of(record)))

    def describe(self, instance: Instance, at_s: float) -> None:
        """Put the words of this moment into the record."""
        describing.describe(instance.record, instance.orders, at_s, self.label)

    def keep(self, instance: Instance) -> None:
        """Keep changed numbers without a transition."""
        if instance.phase is not Phase.NORMAL or instance.is_quiet or instance.record.spent:
            self.kept[instance.record.id] = instance
        self.changed = True

    def unspend(self, instance: Instance) -> None:
        """A seen event is over: were it to come again, it would be told. The store must know,
        or after a restart it would still count as seen."""
        if instance.record.spent:
            instance.record.spent = False
            self.kept[instance.record.id] = instance
            self.changed = True

    def chatter_over(self, instance: Instance, at_s: float) -> None:
        """It comes and goes no longer, or is watched no longer: the caution about it goes."""
        instance.record.chattering = False
        self.own_words.append((own_verdict(f"{CHATTER}{instance.record.id}", False), at_s))

    def note(self, kind: str, text: str, at_s: float, **data: Any) -> None:
        self.notes.append(Note(at_s=at_s, at=self.label(at_s), kind=kind, text=text, data=data))

    def take_keeps(self) -> list[Keep]:
        kept, self.kept = self.kept, {}
        return [Keep(alert=copy_of(instance.record)) for instance in kept.values()]

    def answer_by_ear(self, taken: bool) -> None:
        """A person aboard hears whether it was taken."""
        self.click, self.clicks = "click" if taken else "refused", self.clicks + 1
        self.changed = True

    def stands(self, slug: str) -> bool:
        return slug in self.standing_since

    def own_instance(self, slug: str) -> Instance | None:
        return self.by_rule[slug].get(OWN_SHIP.key)


def copy_of(record: AlertRecord) -> AlertRecord:
    """As it stands now: what is handed out must not change afterwards."""
    return msgspec.structs.replace(record)


def own_verdict(
    part: str, holds: bool, facts: dict[str, Any] | None = None, priority: str = "caution"
) -> Verdict:
    """What the watch says of a part of itself ('outlet-skipper', 'store', 'gap')."""
    subject = Subject(f"part:{part}", "part", part)
    return Verdict(subject=subject, holds=holds, priority=priority, facts=facts or {})
