"""The board: every alert, moved by verdicts, time and people. The engine's door to alerts/.

A raise passes like this: a verdict starts the on-delay (condition.py); when it is over, the
instance takes a step in the table (states.py, desk.py), which writes its line; it is announced
(announcing.py), unless another speaks for it (speaking.py); it sounds (sounding.py) and people
are told (calling.py). Effects gather, and `drain` hands them over in the order of doing: sound
first, then the rows, then the messages.

Everything is deterministic: no clock, no file, no random number, and time is an argument.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from typing import Any

from ..words.alert import AlertRecord, Reason, State
from ..words.effects import Effect, Keep, Remember, Reply, Show, Wanted
from ..words.events import Command, OutletNews, StoreNews, WorkerNews
from ..words.orders import CallListEntry, OutletTable, RuleOrders, Vessel
from ..words.remembered import Remembered
from ..words.verdict import Judgement
from . import announcing, judging, quieting, restart, speaking
from .calling import Caller
from .commands import SEEING, Clerk
from .desk import OWN_KIND, Desk, Instance, copy_of, own_verdict
from .naming import find
from .sounding import wanted
from .states import RAISED, Phase, Quiet, Suppression
from .taking import Duty
from .timings import Timings

_CONDITION = frozenset({"on", "off", "good"})


class Board:
    """See the module's first lines.

    rules: slug -> orders, as naming.slug_of makes the slug. label: engine seconds -> UTC text.
    utc: engine seconds -> UNIX seconds, None when nobody knows the time.
    seeing: channels through which a person sees enough to judge a category A alert.
    """

    def __init__(
        self,
        *,
        rules: Mapping[str, RuleOrders],
        call_list: Sequence[CallListEntry],
        outlets: Sequence[OutletTable],
        vessel: Vessel,
        label: Callable[[float], str],
        timings: Timings | None = None,
        seeing: Collection[str] = SEEING,
        utc: Callable[[float], float | None] = lambda at_s: at_s,
    ) -> None:
        self.vessel = vessel
        self.desk = Desk(rules, outlets, call_list, label, timings or Timings(), utc)
        self._caller = Caller(self.desk)
        self._duty = Duty(self.desk, self._caller)
        self._clerk = Clerk(self.desk, self._duty, seeing)
        self._outlet_up: dict[str, tuple[bool, str]] = {}
        self._shown: Wanted | None = None
        self._remembered: bytes | None = None
        self._now_s = 0.0
        self._fire_instance: dict[str, Callable[[Instance, float], None]] = {
            "silence": lambda i, t: announcing.fire_silence(self.desk, i, t),
            "shelf": lambda i, t: announcing.leave_quiet(self.desk, i, Quiet.SHELF_OVER, t),
            "escalate": lambda i, t: announcing.fire_escalate(self.desk, i, t),
            "people": lambda i, t: announcing.fire_people(self.desk, i, t),
            "still": lambda i, t: announcing.fire_still(self.desk, i, t),
            "taker": lambda i, t: announcing.fire_taker(self.desk, i, t),
        }

    # -- what the engine does ------------------------------------------------------------------

    def judged(self, slug: str, judgement: Judgement, at_s: float) -> None:
        """Take in what one rule says now."""
        self._now_s = at_s
        judging.judged(self.desk, slug, judgement, at_s)
        self._settle(at_s)

    def set_watch(self, watch: str, crew: str, at_s: float) -> None:
        """Another watch, or another crew. Alerts of rules that stand no longer are withdrawn,
        each with its own line; shelves end when a watch is set."""
        self._now_s = at_s
        desk = self.desk
        armed = watch != "off" and (watch != desk.watch or crew == desk.crew)
        desk.watch, desk.crew = watch, crew
        for slug, orders in desk.rules.items():
            if slug == OWN_KIND:
                continue
            if watch in orders.watches:
                desk.standing_since.setdefault(slug, at_s)
                continue
            desk.standing_since.pop(slug, None)
            desk.unknown.pop(slug, None)
            for instance in desk.of_rule(slug):
                lead = f"WATCHED NO MORE: watch {watch}. "
                announcing.withdraw(desk, instance, at_s, Reason.WATCH, lead)
            judging.no_longer_swamped(desk, slug, at_s)
        for instance in desk.everything():
            if armed and instance.suppression is Suppression.SHELVED:
                announcing.leave_quiet(desk, instance, Quiet.WATCH_SET, at_s, Reason.WATCH)
        desk.changed = True
        self._settle(at_s)

    def end_drill(self, at_s: float, why: str) -> None:
        """Nothing of a drill stays standing; those who were called hear that it is over."""
        self._now_s = at_s
        for instance in self.desk.everything():
            if instance.record.drill:
                announcing.withdraw(self.desk, instance, at_s, Reason.WATCH, f"{why}. ")
        self._settle(at_s)

    def command(self, command: Command) -> Reply:
        """A person's word on alerts; see commands.py for the verbs."""
        self._now_s = command.at_s
        if command.verb == "shelve":
            quieting.pre_shelvable(self.desk, str(command.args.get("id") or ""))
        reply = self._clerk.obey(command)
        for instance in self.desk.everything():
            self.desk.close_if_done(instance)
        self.desk.changed = True
        self._settle(command.at_s)
        return reply

    def news(self, event: OutletNews | StoreNews | WorkerNews, at_s: float) -> None:
        """A part of the watch itself failed or works again. A buzzer that is lost is a warning,
        since nothing else wakes those aboard, and so is a watch that may be forgotten; the rest
        is a caution, for a link comes and goes."""
        priority = "caution"
        if isinstance(event, OutletNews):
            self._outlet_up[event.outlet] = (event.up, event.why)
            sounders = [
                t.name
                for t in self.desk.routes.outlets
                if t.sort == "level" and t.reader == "person"
            ]
            priority = "warning" if event.outlet in sounders else "caution"
            part, ok = f"outlet-{event.outlet}", event.up
            facts = {"what": f"outlet {event.outlet}", "why": event.why}
        elif isinstance(event, StoreNews):
            part, ok = "store", event.ok
            priority = "warning" if event.lost else "caution"
            facts = {"what": "the store of the journal", "why": event.why}
        else:
            part, ok = f"worker-{event.worker}", event.ok
            facts = {"what": event.worker, "why": event.why}
        self.tell(part, not ok, at_s, facts=facts, priority=priority)

    def tell(
        self,
        part: str,
        holds: bool,
        at_s: float,
        *,
        facts: dict[str, Any] | None = None,
        priority: str = "caution",
    ) -> None:
        """What the watch has to say of itself: `part` names it, for good. facts: `what` (what
        has failed) and `why`; or `what` one of the words that wording.py knows."""
        self._now_s = at_s
        self.desk.own_words.append((own_verdict(part, holds, facts, priority), at_s))
        self._settle(at_s)

    def says(self, part: str) -> bool:
        """Whether what was told of a part of the watch itself still stands."""
        instance = self.desk.get(OWN_KIND, f"part:{part}")
        return instance is not None and instance.phase in RAISED

    def parts(self) -> list[str]:
        """Parts of the watch itself of which something stands."""
        keys = (instance.record.subject.key for instance in self.desk.of_rule(OWN_KIND))
        return [part for key in keys if self.says(part := key.removeprefix("part:"))]

    def gap(self, at_s: float, gap_s: float, *, ends_s: float | None = None) -> None:
        """Nobody watched for that long, up to `ends_s` (now)."""
        self._now_s = at_s
        restart.tell_gap(self.desk, at_s, gap_s, ends_s=ends_s)
        self._settle(at_s)

    def next_due(self) -> float | None:
        """Engine time at which a timer is due."""
        return self.desk.timers.next_due()

    def run_due(self, at_s: float) -> None:
        """Fire what is due up to `at_s`, in order, each with its own due time."""
        moment: float | None = None
        while (due := self.desk.timers.pop(at_s)) is not None:
            due_s, kind, owner = due
            if moment is not None and due_s != moment:
                self._settle(moment)
            moment = self._now_s = due_s
            self._fire(kind, owner, due_s)
        if moment is not None:
            self._settle(moment)

    def drain(self) -> list[Effect]:
        """Everything to be done since the last call, in the order of doing."""
        desk, effects = self.desk, list[Effect]()
        if not (desk.changed or desk.lines or desk.notes or self._caller.sends):
            return effects
        sound = wanted(desk)
        if sound != self._shown:
            effects.append(sound)
            self._shown = sound
        effects += desk.lines
        effects += desk.take_keeps()
        effects += desk.notes
        effects += self._caller.sends
        state = restart.state_of(desk, self._duty, self._caller)
        if state != self._remembered:
            self._remembered = state
            effects.append(Remember(key=restart.KEY, value=state))
        effects.append(self._show())
        desk.lines, desk.notes, self._caller.sends = [], [], []
        self._caller.drained()
        desk.changed = False
        return effects

    def restore(self, remembered: Remembered, at_s: float, gap_s: float | None) -> None:
        """Take up what an earlier run left: what stood unanswered sounds again now. gap_s: how
        long nobody watched; None: not known."""
        self._now_s = at_s
        restart.restore(self.desk, self._duty, self._caller, remembered, at_s, gap_s)
        self._settle(at_s)

    def everything_kept(self) -> list[Effect]:
        """Every alert as it stands, and the board's own memory, for a store that may lack them."""
        kept: list[Effect] = [Keep(alert=copy_of(record)) for record in self.records()]
        if self._remembered is not None:
            kept.append(Remember(key=restart.KEY, value=self._remembered))
        return kept

    # -- what others ask -----------------------------------------------------------------------

    def open_keys(self, slug: str) -> frozenset[str]:
        """Subjects with an alert or something pending."""
        mine = self.desk.by_rule[slug]
        return frozenset(key for key, i in mine.items() if i.is_open) if mine else frozenset()

    def records(self) -> list[AlertRecord]:
        """Every alert that is pending or more, with the words of this moment."""
        found = []
        for instance in self.desk.everything():
            self.desk.describe(instance, self._now_s)
            found.append(instance.record)
        return found

    def find(self, text: str) -> AlertRecord | str:
        """By id, number or unambiguous beginning; or why there is none."""
        found = find(text, [*self.desk.everything(), *self.desk.past.values()])
        if isinstance(found, str):
            return found
        self.desk.describe(found, self._now_s)
        return copy_of(found.record)

    def unknown_rules(self) -> dict[str, tuple[str, ...]]:
        """Names of rules that cannot be judged now, and what each lacks."""
        return {self.desk.rules[slug].name: lacks for slug, lacks in self.desk.unknown.items()}

    def out_of_service(self) -> dict[str, str]:
        """Rules out of service, and why."""
        return dict(self.desk.out_of_service)

    def has_watch(self) -> tuple[str, float | None]:
        """Who was handed the watch, and until when; ('', None) when nobody."""
        note = self._duty.note
        return ("", None) if note is None else (note.who, note.until_s)

    def outlet_states(self) -> list[dict[str, Any]]:
        """Name, kind, from_priority, up (None: not heard of) and why of every outlet."""
        return [
            {
                "name": table.name,
                "kind": getattr(table, "kind", ""),
                "from_priority": table.from_priority,
                "up": self._outlet_up.get(table.name, (None, ""))[0],
                "why": self._outlet_up.get(table.name, (None, ""))[1],
            }
            for table in self.desk.routes.outlets
        ]

    # -- inside --------------------------------------------------------------------------------

    def _fire(self, kind: str, owner: str, due_s: float) -> None:
        if kind == "group":
            self._caller.fire_group(owner, due_s)
        elif kind == "digest":
            self._caller.fire_digest(due_s)
        elif kind == "quiet":
            self._caller.fire_quiet(owner, due_s)
        elif kind == "handover":
            self._duty.fire(due_s)
        elif kind == "service":
            quieting.fire_service(self.desk, due_s)
        else:
            instance = self.desk.by_id.get(owner)
            if instance is None:
                return
            if kind in _CONDITION:
                judging.fire(self.desk, kind, instance, due_s)
            else:
                self._fire_instance[kind](instance, due_s)

    def _settle(self, at_s: float) -> None:
        """The end of a moment: the watch's own words, who speaks, and who is told."""
        desk = self.desk
        while desk.own_words:
            verdict, when_s = desk.own_words.pop(0)
            judging.take(desk, OWN_KIND, verdict, when_s)
        if not (desk.changed or desk.news or desk.lines):
            return
        speaking.arrange(desk, at_s)
        for instance in desk.unseen():
            if instance.fresh:
                instance.fresh = False
                desk.fresh += instance.record.group is None
        self._caller.tell(at_s)

    def _show(self) -> Show:
        desk = self.desk
        shown = []
        for instance in desk.everything():
            if instance.record.state is not State.NORMAL or instance.phase is not Phase.NORMAL:
                desk.describe(instance, self._now_s)
                if instance.record.state is not State.NORMAL:
                    shown.append(copy_of(instance.record))
        shown.sort(key=_by_urgency)
        return Show(
            at=desk.label(self._now_s),
            watch=desk.watch,
            crew=desk.crew,
            alerts=tuple(shown),
            watching=desk.watch != "off",
        )


def _by_urgency(record: AlertRecord) -> tuple[int, float, str]:
    return -record.priority, -(record.raised_s or 0.0), record.id
