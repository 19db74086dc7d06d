"""The engine: the only door to the core. Events in, effects out, time an argument.

How a moment passes here:
1. every timer that is due up to the event's stamp fires, in order, with its due time;
2. then the event is applied: a line is decoded into the picture, a command is obeyed;
3. what urgent rules say is judged at once, all else on a grid of whole engine seconds.

So nothing depends on when the engine is called, only on what happened and when: a live night
and the rehearsal of its recording give the same transitions. There is no clock, thread, file,
random number or log in here or below, and there never must be.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import msgspec

from . import answers, depicting, watchkeeping
from .alerts.admitting import Gate
from .alerts.board import Board
from .alerts.naming import slug_of
from .alerts.timings import timings_of
from .feed.decode import Decoder
from .owncautions import OwnCautions
from .picture.channel import Reading
from .picture.picture import Picture
from .picture.watch import WatchSet
from .rules.rule import Rule
from .words.alert import ACTIVE, AlertRecord
from .words.effects import Effect, Note, Remember, Reply
from .words.events import (
    ClockNews,
    Command,
    ContactNews,
    Event,
    Gap,
    InputNews,
    Line,
    OutletNews,
    StoreNews,
    WorkerNews,
)
from .words.handling import Handling
from .words.observations import AisReport, AisText, Observation, PositionInvalid
from .words.orders import Orders, RuleOrders
from .words.remembered import Remembered
from .words.timing import utc_text
from .words.verdict import Judgement

GRID_S = 1.0
# So many lines are judged at once within a grid second; more wait for its end. Forged calls for
# help by the thousand must not take the time of the watch.
PROMPT_A_SECOND = 10
# Rules' own memory (beliefs, trends) changes a little each second. What a power cut must not
# take is kept at once (`weighty`); the rest now and then and at the end: a card wears by writes.
KEEP_RULES_EVERY_S = 1800.0
DATED = frozenset({"RMC", "ZDA"})  # sentences that tell the date
URGENT_STATIONS = frozenset({"sart", "mob", "epirb"})


class Armed(msgspec.Struct):
    """A rule in the engine, with what it remembered last."""

    slug: str
    rule: Rule
    kept: bytes | None = None
    weighty: object = None  # the part of its memory that is kept as soon as it changes
    was_off: bool = False  # switched off by a person
    was_standing: bool = False


class Engine:
    """See the module's first lines. Only the main thread calls it."""

    def __init__(self, orders: Orders, now_s: float) -> None:
        self.orders = orders
        expected = {table.name: tuple(table.expect) for table in orders.inputs}
        self.picture = Picture(orders.vessel, expected, now_s)
        self.decoder = Decoder()
        self.armed = [
            Armed(slug, build(orders.vessel)) for slug, build in _builders(orders) if slug
        ]
        # Feed speaks for the rules that are blind, so it is judged when they all are.
        self.armed.sort(key=lambda a: a.rule.orders.table == "feed")
        handling = orders.extra.get("handling") or Handling()
        self.board = Board(
            rules={a.slug: a.rule.orders for a in self.armed},
            call_list=orders.call_list,
            outlets=orders.outlets,
            vessel=orders.vessel,
            label=self.label,
            timings=timings_of(handling),
            seeing=handling.seeing,
            utc=self._known_utc,
        )
        # For who looks on and changes nothing: the report's log of the night.
        self.on_judged: Callable[[RuleOrders, Judgement, float], None] | None = None
        self.gate = Gate()
        self._grid_s = math.floor(now_s) + GRID_S
        self._quiet_s = now_s  # up to then no timer and no grid second falls due
        self._kept_s = now_s
        self._now_s = now_s
        self._effects: list[Effect] = []
        self.cautions = OwnCautions(self.picture, self.board)
        self._prompted = 0  # lines judged at once in this grid second
        self.board.set_watch(self.picture.watch.watch, self.picture.watch.crew, now_s)
        self.board.drain()

    # -- the three doors -----------------------------------------------------------------

    def handle(self, event: Event) -> list[Effect]:
        """Pass the time up to the event, then the event. Returns what is to be done."""
        at_s = event.at_s
        if type(event) is Line and at_s < self._quiet_s:
            # Nearly every event: nothing is due before it, and the picture is all it changes.
            self._now_s = at_s
            if not self._line(event):
                return []
            self._collect()
            return self._take()
        if isinstance(event, Gap):
            self._gap(event)
        self._pass_time(at_s)
        self._now_s = at_s
        if isinstance(event, Line):
            self._line(event)
        elif isinstance(event, Command):
            self._effects += self.obey(event)
        elif isinstance(event, InputNews):
            health = self.picture.inputs.of(event.input, at_s)
            health.up, health.down_why = event.up, event.why
            self.note("input", f"{event.input} {'up' if event.up else 'down'}", why=event.why)
        elif isinstance(event, ContactNews):
            self.picture.contacts[event.contact] = Reading(event.closed, "gpio", at_s)
            self._judge_prompt(at_s)
        elif isinstance(event, ClockNews):
            self.picture.time.computer(event.utc_s, event.quality, at_s)
            self.cautions.look_at_gap(at_s)
        elif isinstance(event, OutletNews | StoreNews | WorkerNews):
            self.board.news(event, at_s)
            self.note(*_news_text(event))
            if isinstance(event, StoreNews) and event.ok:
                self._keep_everything()
        self._collect()
        return self._take()

    def next_deadline(self) -> float | None:
        """Engine time at which something is due without any event."""
        due = self.board.next_due()
        return self._grid_s if due is None else min(due, self._grid_s)

    def restore(self, remembered: Remembered, gap_s: float | None) -> list[Effect]:
        """Take up what an earlier run left, before any data. gap_s: how long nobody watched."""
        now_s = self._now_s
        state = remembered.state
        watchkeeping.restore_watch(self.picture, state.get("watch"))
        self.gate.recall(state.get("gate"))
        self.board.set_watch(self.picture.watch.watch, self.picture.watch.crew, now_s)
        self.board.drain()
        for armed in self.armed:
            kept = state.get(f"rule:{armed.slug}")
            if kept is not None:
                armed.rule.recall(kept, now_s)
                armed.kept = kept
            armed.was_standing = self._stands(armed.rule)
            armed.was_off = getattr(armed.rule, "off_until_s", None) is not None
        self.picture.wake(now_s)
        for record in remembered.alerts:
            if record.kind == "feed" and record.state in ACTIVE:
                self.picture.recall_fault(record.facts, now_s)
        self.board.restore(remembered, now_s, gap_s)
        self.cautions.restored(remembered.last_alive_s, now_s)
        self.board.end_drill(now_s, "THE DRILL WAS CUT OFF by a restart")
        self._collect()
        return self._take()

    # -- what happens inside -------------------------------------------------------------

    def label(self, at_s: float) -> str:
        """UTC text of an engine time."""
        return utc_text(self.picture.time.utc_s(at_s))

    def utc_s(self, at_s: float) -> float | None:
        """As the board has it: UNIX seconds; None while nobody knows the time."""
        return self._known_utc(at_s)

    def _known_utc(self, at_s: float) -> float | None:
        """UNIX seconds; None while nobody knows the time."""
        time = self.picture.time
        return None if time.quality == "none" else time.utc_s(at_s)

    @property
    def watch(self) -> WatchSet:
        return self.picture.watch

    def _pass_time(self, until_s: float) -> None:
        while True:
            due = self.board.next_due()
            if due is not None and due < self._grid_s and due <= until_s:
                self._now_s = due
                self.board.run_due(due)
                continue
            if self._grid_s > until_s:
                return
            now_s, self._grid_s = self._grid_s, self._grid_s + GRID_S
            self._now_s = now_s
            self._tick(now_s)

    def _tick(self, now_s: float) -> None:
        """One grid second: judge everything that stands, then what is due falls due."""
        picture = self.picture
        self._prompted = 0
        picture.targets.sweep(now_s)
        for at_s, text in picture.targets.news.take(now_s):
            self._effects.append(Note(at_s=at_s, at=self.label(at_s), kind="target", text=text))
        self.cautions.tick(now_s)
        picture.blind.clear()
        picture.blind_at_s = now_s
        for armed in self.armed:
            self._judge(armed, now_s)
        self.board.run_due(now_s)
        if now_s - self._kept_s >= KEEP_RULES_EVERY_S:
            self.keep_rules(now_s)

    def _gap(self, event: Gap) -> None:
        """Nobody watched: nothing is judged in arrears on what was not heard. Timers that were
        due meanwhile fire, each with its own due time."""
        self._pass_time(event.since_s)
        self.board.run_due(event.at_s)
        self._grid_s = max(self._grid_s, math.floor(event.at_s) + GRID_S)
        self._now_s = event.at_s
        self.picture.wake(event.at_s)
        self.cautions.woke()
        self.board.gap(event.at_s, round(event.at_s - event.since_s, 3))
        self.note("gap", f"not watched for {event.at_s - event.since_s:.0f} s")

    def _judge(self, armed: Armed, now_s: float) -> None:
        rule = armed.rule
        standing = self._stands(rule)
        if standing and not armed.was_standing:
            rule.watch_set(self.picture, now_s)
        armed.was_standing = standing
        if not standing:
            self.picture.blind_since.pop(rule.orders.name, None)
            return
        judgement = rule.judge(self.picture, now_s, self.board.open_keys(armed.slug))
        self._mark_blind(rule.orders.name, judgement.missing, now_s)
        self.board.judged(armed.slug, judgement, now_s)
        if self.on_judged is not None:
            self.on_judged(rule.orders, judgement, now_s)
        weighty = getattr(rule, "weighty", None)
        if weighty is not None:
            self._keep_weighty(armed, weighty())

    def _mark_blind(self, name: str, missing: tuple[str, ...], now_s: float) -> None:
        """What a rule lacks now, and since when: the feed rule speaks for it."""
        picture = self.picture
        if missing:
            picture.blind[name] = missing
            picture.blind_since.setdefault(name, now_s)
        else:
            picture.blind.pop(name, None)
            picture.blind_since.pop(name, None)

    def _keep_weighty(self, armed: Armed, weighty: object) -> None:
        """A rule's memory that a power cut must not take, and the end of being switched off."""
        if weighty != armed.weighty:
            armed.weighty = weighty
            self._keep_rule(armed)
        off = getattr(armed.rule, "off_until_s", None) is not None
        if armed.was_off and not off:
            self.note("zone", f'{armed.rule.orders.table} "{armed.rule.orders.name}" is on again')
        armed.was_off = off

    def _judge_prompt(self, now_s: float) -> None:
        for armed in self.armed:
            if armed.rule.prompt and armed.was_standing:
                self._judge(armed, now_s)

    def _stands(self, rule: Rule) -> bool:
        return self.watch.watch in rule.orders.watches

    def _line(self, event: Line) -> bool:
        """True when more than the picture may have changed: something was judged or told."""
        at_s, wire = event.at_s, event.input
        heard = self.decoder.decode(at_s, wire, event.text)
        health = self.picture.inputs.of(wire, at_s)
        health.heard(heard.verdict, heard.kind, heard.why, at_s, heard.talker)
        urgent = told = False
        for fact in heard.observations:
            self.picture.take(fact, wire, at_s)
            urgent = urgent or is_urgent(fact)
        if heard.kind in DATED:
            told = self.cautions.look_at_gap(at_s)
        if urgent and self._prompted < PROMPT_A_SECOND:
            self._prompted += 1
            self._judge_prompt(at_s)
            told = True
        return told

    def obey(self, command: Command) -> list[Effect]:
        """Do a person's word, or refuse it with a reason. Every one is journalled."""
        done: list[Effect] = []
        refused = self.gate.why_not(command, self._known_utc(command.at_s))
        if command.key:
            done.append(Remember(key="gate", value=self.gate.remember()))
        if command.verb in answers.QUESTIONS and not refused:
            code, text, data = answers.QUESTIONS[command.verb](self, command)
        else:
            act: Callable[[Engine, Command], tuple[int, str, dict[str, object]]]
            act = watchkeeping.COMMANDS.get(command.verb, _hand_to_board)
            code, text, data = (2, refused, {}) if refused else act(self, command)
            if code < 2 and _is_sign_of_life(command):
                self.picture.person_s = command.at_s
            done.append(
                Note(
                    at_s=command.at_s,
                    at=self.label(command.at_s),
                    kind="command",
                    text=f"{command.verb}: {text}",
                    data={
                        "verb": command.verb,
                        "args": command.args,
                        "who": command.who,
                        "where": command.where,
                        "through": command.through,
                        "code": code,
                    },
                )
            )
        done += self.board.drain()
        done.append(Reply(number=command.number, code=code, text=text, data=data))
        return done

    def keep_rules(self, now_s: float) -> None:
        """Hand the rules' own memory to the store where it changed."""
        self._kept_s = now_s
        for armed in self.armed:
            self._keep_rule(armed)

    def _keep_rule(self, armed: Armed) -> None:
        state = armed.rule.remember()
        if state is not None and state != armed.kept:
            armed.kept = state
            self._effects.append(Remember(key=f"rule:{armed.slug}", value=state))

    def _keep_everything(self) -> None:
        """A store that is well again, or new, may lack what an earlier one held."""
        for key, value in self.memory().items():
            self._effects.append(Remember(key=key, value=value))
        self._effects += self.board.everything_kept()

    def memory(self) -> dict[str, bytes]:
        """Named state as the store would hold it now: the watch, and what each rule remembers."""
        state = {"watch": msgspec.json.encode(self.watch), "gate": self.gate.remember()}
        for armed in self.armed:
            kept = armed.rule.remember()
            if kept is not None:
                state[f"rule:{armed.slug}"] = kept
        return state

    def remember_watch(self) -> None:
        self._effects.append(Remember(key="watch", value=msgspec.json.encode(self.watch)))

    def note(self, kind: str, text: str, **data: object) -> None:
        self._effects.append(
            Note(at_s=self._now_s, at=self.label(self._now_s), kind=kind, text=text, data=data)
        )

    def _collect(self) -> None:
        self._effects += depicting.depicted(self, self.board.drain(), self._now_s)
        due = self.board.next_due()
        self._quiet_s = self._grid_s if due is None else min(due, self._grid_s)

    def _take(self) -> list[Effect]:
        effects, self._effects = self._effects, []
        return effects

    def records(self) -> Sequence[AlertRecord]:
        return self.board.records()


def _builders(orders: Orders) -> list[tuple[str, Callable[..., Rule]]]:
    """(slug, build) of every rule that is in force."""
    return [
        (slug_of(table.name), table.build) for table in orders.rules if table.priority != "none"
    ]


def _is_sign_of_life(command: Command) -> bool:
    """Given at a place aboard from where one can look about; not by a machine, not from ashore
    (IMO MSC.128(75) 4.1.3.1)."""
    by_hand = command.through in ("command line", "button") and command.verb != "heartbeat"
    return command.where == "aboard" and by_hand


def is_urgent(fact: Observation) -> bool:
    if type(fact) is AisReport:
        return fact.station in URGENT_STATIONS
    return type(fact) is PositionInvalid or type(fact) is AisText


def _news_text(event: OutletNews | StoreNews | WorkerNews) -> tuple[str, str]:
    """(kind of note, its words) for news of one of the watch's own parts."""
    if isinstance(event, OutletNews):
        kind, part, up = "outlet", event.outlet, event.up
    elif isinstance(event, StoreNews):
        kind, part, up = "store", "the store", event.ok
    else:
        kind, part, up = "worker", event.worker, event.ok
    return kind, f"{part} {'up' if up else 'down'}: {event.why}".removesuffix(": ")


def _hand_to_board(engine: Engine, command: Command) -> tuple[int, str, dict[str, object]]:
    reply = engine.board.command(command)
    return reply.code, reply.text, reply.data
