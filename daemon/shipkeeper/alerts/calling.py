"""Calling: which message goes to which outlet, and everyone paged hears the end of it.

People are told of an announcement once, with the list of what it stands for; those who were
told are told who has it and when it is over. Machines (logs) are told every transition.
Cautions reach people as a digest, at most one in an hour. In a person's quiet hours warnings
and cautions are kept for one message at their end; an alarm, also one that grew from a warning
that nobody answered, goes through.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Literal

import msgspec

from ..words.alert import AlertRecord, Priority, State
from ..words.effects import Message, Record, Send
from . import describing, phrases
from .desk import Desk, Instance, News
from .speaking import GROUPED_KINDS, members
from .states import RAISED, published

MessageKind = Literal["raised", "cleared", "acknowledged", "repeat", "state", "note"]
LISTED = 20
HELD_MAX = 200  # of one person's quiet hours; all of it is in the journal


class Caller:
    """Turns the news of a moment into messages; keeps what was told when."""

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.sends: list[Send] = []
        self.digest_s: float | None = None  # when the last digest went out
        self._digest: dict[str, AlertRecord] = {}
        self._group_told_s: dict[str, float] = {}
        self.held: dict[str, list[str]] = {}  # outlet -> what its quiet hours hold back
        self._lines_told = 0

    def tell(self, at_s: float) -> None:
        """Make messages of all that is new."""
        desk = self.desk
        for line in desk.lines[self._lines_told :]:
            self._log(line)
        self._lines_told = len(desk.lines)
        news, desk.news = desk.news, []
        grouped: dict[str, Instance] = {}
        cleared: dict[str, list[News]] = {}
        for item in news:
            instance = item.instance
            if item.kind == "cleared":
                grouping = instance.record.kind in GROUPED_KINDS
                cleared.setdefault(instance.slug if grouping else instance.record.id, []).append(
                    item
                )
            elif item.kind == "acknowledged":
                self._acknowledged(item)
            elif instance.record.priority is Priority.CAUTION:
                self._caution(instance, at_s)
            elif instance.record.group is None:
                self._announce(item, members(desk, instance))
            elif instance.cause is None:
                grouped[instance.slug] = instance
        for slug in grouped:
            self._group_grew(slug, at_s)
        for items in cleared.values():
            self._cleared(items)

    def drained(self) -> None:
        self._lines_told = 0

    def fire_group(self, slug: str, at_s: float) -> None:
        """The list of a group has grown since it was told."""
        for leader in self.desk.of_rule(slug):
            if leader.is_unseen and leader.record.group is None and leader.cause is None:
                self._announce(News(leader, "raised", at_s), members(self.desk, leader))
                return

    def fire_digest(self, at_s: float) -> None:
        self._send_digest(at_s)

    def fire_quiet(self, outlet: str, at_s: float) -> None:
        """Quiet hours are over: what they held back, in one message."""
        held = self.held.pop(outlet, [])
        if held:
            self.desk.changed = True
            more = f" And {len(held) - LISTED} more." if len(held) > LISTED else ""
            text = f"In your quiet hours: {' '.join(held[:LISTED])}{more}"
            self.note([outlet], "quiet-hours", f"{len(held)} WHILE QUIET", text, at_s)

    def restore_held(self, held: dict[str, list[str]], at_s: float) -> None:
        self.held = held
        for outlet in held:
            due_s = at_s + self.desk.routes.quiet_s(outlet, self.desk.utc(at_s))
            self.desk.timers.set("quiet", outlet, round(due_s, 3))

    def _held(self, outlet: str, record: AlertRecord, line: str, at_s: float) -> bool:
        """Whether this is kept for the end of the quiet hours."""
        if record.priority > Priority.WARNING:
            return False
        left_s = self.desk.routes.quiet_s(outlet, self.desk.utc(at_s))
        if left_s <= 0:
            return False
        told = f"{self.desk.label(at_s)[11:16]} {line.rstrip('.')}."
        self.held.setdefault(outlet, []).append(told)
        del self.held[outlet][:-HELD_MAX]
        self.desk.timers.set("quiet", outlet, round(at_s + left_s, 3))
        self.desk.changed = True
        return True

    def note(self, outlets: Iterable[str], about: str, title: str, text: str, at_s: float) -> None:
        """A message that is about no alert: the watch ends, the watch is handed over."""
        for outlet in outlets:
            self.sends.append(Send(message=self._plain(outlet, about, title, text, at_s)))

    # -- people ------------------------------------------------------------------------------

    def _announce(self, item: News, others: Sequence[Instance]) -> None:
        desk, instance = self.desk, item.instance
        record = instance.record
        desk.describe(instance, item.at_s)
        who = item.who
        if who is None:
            routed = desk.routes.at_once(record.call, record.priority)
            who = desk.routes.people(dict.fromkeys((*routed, *record.paged)), record.priority)
        line = describing.first_line(record, instance.orders)
        who = tuple(o for o in who if not self._held(o, record, line, item.at_s))
        records = [other.record for other in others]
        kind: MessageKind = "repeat" if item.kind == "repeat" else "raised"
        for outlet in who:
            self._send(instance, outlet, kind, item.at_s, item.lead, records)
        for told in (instance, *others):
            told.record.paged = tuple(dict.fromkeys((*told.record.paged, *who)))
            desk.keep(told)
        self._group_told_s[instance.slug] = item.at_s
        desk.timers.set("group", instance.slug, None)

    def _group_grew(self, slug: str, at_s: float) -> None:
        """One more on a list that is being told already: no new sound, and a new list soon."""
        if all(i.record.paged for i in self.desk.of_rule(slug) if i.is_unseen):
            return
        told_s = self._group_told_s.get(slug, -math.inf)
        due_s = max(at_s, round(told_s + self.desk.timings.group_s, 3))
        if due_s <= at_s:
            self.fire_group(slug, at_s)
        else:
            self.desk.timers.set("group", slug, due_s)

    def _acknowledged(self, item: News) -> None:
        record = item.instance.record
        self.desk.describe(item.instance, item.at_s)
        who = dict.fromkeys((*record.paged, *(n for o in item.others for n in o.paged)))
        for outlet in self.desk.routes.people(who, Priority.EMERGENCY):
            self._send(item.instance, outlet, "acknowledged", item.at_s, item.lead, item.others)

    def _cleared(self, items: Sequence[News]) -> None:
        """Over. Of a group, the end is told once, with the last of them."""
        desk, first = self.desk, items[0].instance
        paged: dict[str, None] = {}
        for item in items:
            paged |= dict.fromkeys(item.instance.record.paged)
            item.instance.record.paged = ()
        if first.record.kind in GROUPED_KINDS:
            for heir in desk.of_rule(first.slug):
                if heir.phase in RAISED and heir.record.paged:
                    heir.record.paged = tuple(dict.fromkeys((*heir.record.paged, *paged)))
                    return
        desk.describe(first, items[0].at_s)
        others = [item.instance.record for item in items[1:]]
        for outlet in desk.routes.people(paged, Priority.EMERGENCY):
            self._send(first, outlet, "cleared", items[0].at_s, items[0].lead, others)

    def _caution(self, instance: Instance, at_s: float) -> None:
        record = instance.record
        self._digest[record.id] = record
        if self.digest_s is None or at_s - self.digest_s >= self.desk.timings.digest_s:
            self._send_digest(at_s)
        else:
            due_s = round(self.digest_s + self.desk.timings.digest_s, 3)
            self.desk.timers.set("digest", "digest", due_s)

    def _send_digest(self, at_s: float) -> None:
        desk = self.desk
        told, self._digest = list(self._digest.values()), {}
        if not told:
            return
        self.digest_s = at_s
        for outlet in desk.routes.wants_cautions():
            mine = [
                r
                for r in told
                if (r.call is None or outlet in r.call)
                and not self._held(outlet, r, f"{r.title}: {r.text.partition('. ')[0]}", at_s)
            ]
            if mine:
                text = " ".join(f"{r.text}{_over(r)}" for r in mine[:LISTED])
                title = mine[0].title if len(mine) == 1 else f"{len(mine)} CAUTIONS"
                self.note([outlet], "digest", title, text, at_s)

    # -- machines ----------------------------------------------------------------------------

    def _log(self, line: Record) -> None:
        record = line.alert
        for outlet in self.desk.routes.machines(record.priority):
            message = self._message(record, outlet, _logged_as(line), line.at_s, record.text)
            self.sends.append(Send(message=message))

    # -- messages ----------------------------------------------------------------------------

    def _send(
        self,
        instance: Instance,
        outlet: str,
        kind: MessageKind,
        at_s: float,
        lead: str,
        others: Sequence[AlertRecord],
    ) -> None:
        record = instance.record
        line = describing.first_line(record, instance.orders)
        text = record.text
        if others:
            line, text = _together(record, others, line, text)
        if kind in ("acknowledged", "cleared"):
            line = text.partition(". ")[0]
            line = f"{record.title}: {lead}{line}" if lead else f"{record.title}: {line}"
        message = self._message(record, outlet, kind, at_s, lead + text)
        message = msgspec.structs.replace(
            message,
            line=line if kind in ("acknowledged", "cleared") else lead + line,
            about=instance.slug if others else record.id,
            title=phrases.fit(f"{1 + len(others)} {record.title}") if others else record.title,
        )
        self.sends.append(Send(message=message))

    def _message(
        self, record: AlertRecord, outlet: str, kind: MessageKind, at_s: float, text: str
    ) -> Message:
        return Message(
            id=_message_id(record, outlet, kind, at_s),
            outlet=outlet,
            at_s=at_s,
            at=self.desk.label(at_s),
            event=kind,
            about=record.id,
            number=record.number,
            occurrence=record.occurrence,
            priority=record.priority,
            state=str(published(record.state)),
            title=record.title,
            line=text.partition(". ")[0],
            text=text,
            rule=record.rule,
            subject=record.subject.name,
            value=record.value,
            limit=record.limit,
            unit=record.unit,
            lat=record.lat,
            lon=record.lon,
            drill=record.drill,
            revision=record.revision,
        )

    def _plain(self, outlet: str, about: str, title: str, text: str, at_s: float) -> Message:
        return Message(
            id=f"{about}/{outlet}/{round(at_s * 1000)}",
            outlet=outlet,
            at_s=at_s,
            at=self.desk.label(at_s),
            event="note",
            about=about,
            number=0,
            occurrence=0,
            priority=Priority.CAUTION,
            state="note",
            title=phrases.fit(title),
            line=text.partition(". ")[0],
            text=text,
        )


def _message_id(record: AlertRecord, outlet: str, kind: str, at_s: float) -> str:
    """Stable: the same news to the same outlet has the same id however often it is sent."""
    return f"{record.id}/{record.occurrence}/{kind}/{outlet}/{round(at_s * 1000)}/{record.revision}"


def _together(
    record: AlertRecord, others: Sequence[AlertRecord], line: str, text: str
) -> tuple[str, str]:
    """First line and text of a list: how many, the speaker, and who else."""
    count = 1 + len(others)
    names = [_named(other) for other in others[:LISTED]]
    more = f" and {len(others) - LISTED} more" if len(others) > LISTED else ""
    listed = f"{count} together: {text} Also: {', '.join(names)}{more}."
    return f"{count} together. {line}", listed


def _named(record: AlertRecord) -> str:
    """On a list: the name; of those who call for help also what calls."""
    name = phrases.clean(record.subject.name)
    return f"{record.title} {name}" if record.kind == "distress" else name


def _over(record: AlertRecord) -> str:
    return "" if record.state is State.ACTIVE else " (Over.)"


def _logged_as(line: Record) -> MessageKind:
    """The sort of news that a transition is, for a log."""
    to, was = line.transition.to, line.transition.from_
    raised = {State.ACTIVE, State.UNACKNOWLEDGED}
    if to in raised and was in (State.NORMAL, State.UNKNOWN, State.RECTIFIED):
        return "raised"
    if to in (State.ACKNOWLEDGED, State.TRANSFERRED):
        return "acknowledged"
    if to in (State.NORMAL, State.RECTIFIED) and was not in (State.UNKNOWN, State.SHELVED):
        return "cleared"
    return "state"
