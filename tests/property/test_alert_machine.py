"""The alert board under everything that can happen to it: events, restarts, lost inputs.

A hypothesis state machine drives the real board and holds the invariants of our test plan that
concern alerts: nothing lost or un-acknowledged by a restart, nothing cleared by lack of data,
raised in time and never too early, steps only from the table, one sound for one cause, old
answers change nothing, and the same events give the same effects.
"""

from __future__ import annotations

import random
from collections.abc import Callable

import msgspec
import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from tests.unit.alerts.bench import RULES, Bench, ship

from shipkeeper.alerts.states import HELD, RAISED, ROWS, Phase, Row, Trigger, find_row
from shipkeeper.words.alert import ACTIVE, OWN_SHIP, Priority, State, Subject
from shipkeeper.words.effects import Effect, Record
from shipkeeper.words.events import OutletNews, StoreNews
from shipkeeper.words.verdict import Verdict

SLUGS = ("drag", "ring", "close", "blow", "battery", "hatch", "float", "feed")
PER_TARGET = ("ring", "close")
FLAT_STEPS = {(row.phase, row.to) for row in ROWS}
SAYS = ("holds", "holds", "worse", "at once", "deadband", "gone", "unknown", "left out", "missing")
WALKS, STEPS = 10, 450
VERBS = ("ack", "silence", "shelve", "unshelve", "reset", "take", "hand-back", "transfer", "press")


def subjects(slug: str) -> tuple[Subject, ...]:
    if slug in PER_TARGET:
        return ship(1), ship(2)
    if slug == "feed":
        return (Subject("input:gnss", "input", "gnss"),)
    return (OWN_SHIP,)


def verdict(subject: Subject, says: str, event: str) -> Verdict | None:
    if says in ("left out", "missing"):
        return None
    if says == "unknown":
        return Verdict(subject=subject, holds=None)
    if says in ("gone", "deadband"):
        return Verdict(subject=subject, holds=False, gone=says == "gone")
    return Verdict(
        subject=subject,
        holds=True,
        gone=False,
        at_once=says == "at once",
        worse=says == "worse",
        facts={"event": event, "name": subject.name},
    )


class AlertMachine(RuleBasedStateMachine):
    """See the module's first lines."""

    @initialize(crew=st.sampled_from(("aboard", "ashore")))
    def begin(self, crew: str) -> None:
        self.bench = Bench(crew=crew)
        self.says: dict[tuple[str, str], str] = {}
        self.true_since: dict[tuple[str, str], float] = {}
        self.before: dict[str, tuple[State, int]] = {}
        self.seen_effects = 0
        self.at: dict[str, str] = {}
        self.lost_only = False  # the last thing that happened was lost data

    # -- what may happen -----------------------------------------------------------------------

    @rule(
        slug=st.sampled_from(SLUGS),
        which=st.integers(0, 1),
        says=st.sampled_from(SAYS),
        event=st.sampled_from(("entered", "left", "lost")),
        seconds=st.sampled_from((1, 3, 12, 25)),
    )
    def judged(self, slug: str, which: int, says: str, event: str, seconds: int) -> None:
        """A rule says something of one subject, for some seconds."""
        held = subjects(slug)
        subject = held[which % len(held)]
        stands = self.bench.board.desk.stands(slug)
        if not stands:
            return
        self._snapshot(slug)
        self.lost_only = says in ("unknown", "left out", "missing")
        others = {s.key: self.says.get((slug, s.key), "left out") for s in held}
        others[subject.key] = says
        verdicts = [v for s in held if (v := verdict(s, others[s.key], event)) is not None]
        missing = ("position",) if says == "missing" else ()
        self.bench.said = {}
        self.bench.say(slug, *([] if missing else verdicts), missing=missing)
        before_s = self.bench.now_s
        self.bench.run(seconds)
        self._check_raise(slug, subject, says, before_s, seconds)
        self.says[slug, subject.key] = says
        self.bench.said = {}

    @rule(seconds=st.sampled_from((0.3, 5.0, 29.9, 61.0, 130.0, 700.0)))
    def time_passes(self, seconds: float) -> None:
        """Nothing is judged meanwhile: delays that run go on."""
        self.lost_only = False
        self.bench.wait(seconds)

    @rule(
        verb=st.sampled_from(VERBS),
        pick=st.integers(0, 9),
        where=st.sampled_from(("aboard", "ashore")),
        through=st.sampled_from(("command line", "push", "button")),
        old=st.booleans(),
    )
    def person(self, verb: str, pick: int, where: str, through: str, old: bool) -> None:
        """Somebody does something to some alert, perhaps late."""
        self.lost_only = False
        records = self.bench.board.records()
        if not records:
            return
        record = records[pick % len(records)]
        args: dict[str, object] = {"to": "Bob", "why": "a reason", "for_s": 600.0}
        if verb == "ack":
            args = {"occurrence": record.occurrence - 1} if old else {}
        was = (record.state, record.occurrence)
        reply = self.bench.command(verb, record.id, where=where, through=through, **args)
        if verb == "ack" and old:
            assert reply.code == 2
            assert (record.state, record.occurrence) == was, "an old answer changes nothing"

    @rule(pick=st.integers(0, 9), reset=st.booleans())
    def answered(self, pick: int, reset: bool) -> None:
        """Somebody aboard who sees the picture answers what stands, as most people would."""
        self.lost_only = False
        waiting = [r for r in self.bench.board.records() if r.occurrence]
        if waiting:
            record = waiting[pick % len(waiting)]
            self.bench.command("ack", record.id, occurrence=record.occurrence)
            if reset:
                self.bench.command("reset", record.id)

    @rule(slug=st.sampled_from(SLUGS), says=st.sampled_from(("holds", "worse", "gone", "missing")))
    def goes_on(self, slug: str, says: str) -> None:
        """What one rule says of all its subjects, for as long as its delays take."""
        self.lost_only = False
        if self.bench.board.desk.stands(slug):
            verdicts = [v for s in subjects(slug) if (v := verdict(s, says, "entered"))]
            missing = ("position",) if says == "missing" else ()
            self.bench.said = {}
            self.bench.say(slug, *verdicts, missing=missing)
            self.bench.run(22)
            self.bench.wait(100)
            self.bench.said = {}

    @rule()
    def silence_all(self) -> None:
        self.lost_only = False
        self.bench.command("silence")
        assert self.bench.sound.pattern == "silence"

    @rule(ok=st.booleans(), which=st.sampled_from(("outlet", "store")))
    def news(self, ok: bool, which: str) -> None:
        """A part of the watch fails or works again."""
        self.lost_only = False
        now_s = self.bench.now_s
        if which == "outlet":
            self.bench.board.news(OutletNews(now_s, "skipper", ok, "no route"), now_s)
        else:
            self.bench.board.news(StoreNews(now_s, ok, "disk full"), now_s)
        self.bench.gather()

    @rule(
        watch=st.sampled_from(("anchored", "underway")),
        crew=st.sampled_from(("aboard", "ashore")),
    )
    def watch_is_set(self, watch: str, crew: str) -> None:
        self.lost_only = False
        self.bench.set_watch(watch, crew)
        self.says.clear()

    @precondition(lambda self: self.bench.board.desk.watch == "anchored")
    @rule(gap_s=st.sampled_from((1.0, 30.0, 600.0)))
    def power_is_lost(self, gap_s: float) -> None:
        """Save, restart, restore: nothing lost, no acknowledgement lost, silence void."""
        self.lost_only = False
        old = self.bench
        new = old.restarted(gap_s=gap_s)
        for record in old.board.records():
            if record.state is State.NORMAL:
                continue
            later = new.record(record.id)
            if record.id == "self:gap":
                continue  # this gap is told as well
            assert later.occurrence == record.occurrence
            expected = record.state
            if record.state is State.SILENCED:
                expected = State.UNACKNOWLEDGED
            if record.state is State.SHELVED and (record.shelved_until_s or 0) <= new.now_s:
                assert later.state is not State.SHELVED
            else:
                assert later.state is expected, (record.id, record.state, later.state)
        sounding = [r for r in new.board.records() if r.state is State.UNACKNOWLEDGED]
        if any(r.priority > Priority.CAUTION and r.group is None for r in sounding):
            assert new.sound.pattern != "silence", "sounds before any data"
        self.seen_effects = len(old.effects)
        new.effects = [*old.effects, *new.effects]
        self.bench = new
        self.says.clear()

    # -- what must hold ------------------------------------------------------------------------

    @invariant()
    def never_cleared_by_lack_of_data(self) -> None:
        """An alert never leaves an active state because nothing was heard."""
        if not getattr(self, "lost_only", False):
            return
        for ident, (state, occurrence) in self.before.items():
            if state in ACTIVE:
                now = self.bench.record(ident)
                assert now.state in ACTIVE and now.occurrence == occurrence, ident

    @invariant()
    def nothing_stands_without_the_table(self) -> None:
        """Records, phases and states agree; what is flat is derived."""
        bench = getattr(self, "bench", None)
        if bench is None:
            return
        desk = bench.board.desk
        for instance in desk.everything():
            record = instance.record
            assert record.announcement == instance.phase
            assert (instance.phase in RAISED) == (
                instance.proof.condition in ("true", "clearing")
            ) or instance.phase not in RAISED
            if instance.phase in HELD and instance.phase is not Phase.PENDING:
                assert record.number > 0
                assert record.raised_s is not None
            if instance.proof.data_lost:
                assert instance.proof.off_due_s is None

    @invariant()
    def one_sound_for_one_cause(self) -> None:
        """What another speaks for makes no sound, and names its speaker, which is there."""
        bench = getattr(self, "bench", None)
        if bench is None:
            return
        desk = bench.board.desk
        unseen = [i for i in desk.unseen() if i.record.priority > Priority.CAUTION]
        loud = [i for i in unseen if i.phase is Phase.UNACK and i.record.group is None]
        for instance in unseen:
            if instance.record.group is not None:
                speaker = desk.by_id[instance.record.group]
                assert speaker is not instance
        if loud:
            assert bench.sound.pattern != "silence"
        for slug in PER_TARGET:
            leaders = [i for i in unseen if i.slug == slug and i.record.group is None]
            assert len(leaders) <= 1, "the unanswered alerts of one rule have one speaker"

    @invariant()
    def effects_are_whole(self) -> None:
        """Lines chain: each begins where the last one of its alert ended; texts are there."""
        bench = getattr(self, "bench", None)
        if bench is None:
            return
        at = self.at
        for effect in bench.effects[self.seen_effects :]:
            if isinstance(effect, Record):
                line = effect.transition
                assert line.text and len(effect.alert.title) <= 16
                assert line.from_ == at.get(line.alert, "normal"), line
                at[line.alert] = line.to
                msgspec.json.encode(line)
        self.seen_effects = len(bench.effects)

    # -- helpers -------------------------------------------------------------------------------

    def _snapshot(self, slug: str) -> None:
        """What stands of the rule, but what is clearing: that may be over within the second."""
        self.before = {
            i.record.id: (i.record.state, i.record.occurrence)
            for i in self.bench.board.desk.of_rule(slug)
            if i.proof.condition != "clearing"
        }

    def _check_raise(
        self, slug: str, subject: Subject, says: str, before_s: float, seconds: int
    ) -> None:
        """Raised after the on-delay and one grid step; nothing before."""
        instance = self.bench.board.desk.get(slug, subject.key)
        confirm_s = RULES[slug].confirm_s
        if says == "holds" and seconds >= confirm_s + 1:
            assert instance is not None
            assert instance.phase in RAISED or instance.record.spent
        if instance is None or instance.record.raised_s is None:
            return
        if instance.record.raised_s > before_s and says in ("holds", "worse"):
            since_s = instance.record.since_s
            if since_s is not None:
                assert instance.record.raised_s >= since_s + confirm_s - 0.001


TestAlertMachine = AlertMachine.TestCase
TestAlertMachine.settings = settings(
    max_examples=25,
    stateful_step_count=40,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
)


def _walk(seed: int, steps: int) -> None:
    """A long random walk over the same machine: far deeper than a shrinkable example goes."""
    dice = random.Random(seed)
    machine = AlertMachine()
    machine.begin(crew="aboard")
    pick = dice.choice
    moves: tuple[tuple[int, Callable[[], object]], ...] = (
        (8, lambda: machine.judged(
            slug=pick(SLUGS), which=dice.randrange(2), says=pick(SAYS),
            event=pick(("entered", "entered", "left", "lost")), seconds=pick((1, 3, 12, 25)))),
        (8, lambda: machine.goes_on(
            slug=pick(SLUGS), says=pick(("holds", "worse", "gone", "gone", "missing")))),
        (5, lambda: machine.time_passes(seconds=pick((0.3, 5.0, 29.9, 61.0, 130.0, 700.0)))),
        (5, lambda: machine.answered(pick=dice.randrange(10), reset=dice.random() < 0.3)),
        (5, lambda: machine.person(
            verb=pick(VERBS), pick=dice.randrange(10), where=pick(("aboard", "ashore")),
            through=pick(("command line", "push")), old=dice.random() < 0.2)),
        (1, machine.silence_all),
        (1, lambda: machine.news(ok=dice.random() < 0.5, which=pick(("outlet", "store")))),
        (1, lambda: machine.watch_is_set(
            watch=pick(("anchored", "anchored", "underway")), crew=pick(("aboard", "ashore")))),
        (1, lambda: machine.bench.board.desk.watch == "anchored" and machine.power_is_lost(
            gap_s=pick((1.0, 30.0, 600.0)))),
    )  # fmt: skip
    weights = [weight for weight, _ in moves]
    for _ in range(steps):
        dice.choices(moves, weights)[0][1]()
        machine.never_cleared_by_lack_of_data()
        machine.nothing_stands_without_the_table()
        machine.one_sound_for_one_cause()
        machine.effects_are_whole()


def test_long_walks_keep_every_promise_and_reach_the_table(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Only rows of the table are taken, and the walks come through nearly all of them."""
    taken: set[Row] = set()

    def watching(phase: Phase, trigger: Trigger, traits: frozenset[str]) -> Row:
        row = find_row(phase, trigger, traits)
        taken.add(row)
        return row

    monkeypatch.setattr("shipkeeper.alerts.desk.find_row", watching)
    for seed in range(WALKS):
        _walk(seed, STEPS)
    assert len(taken) >= 0.8 * len(ROWS), [r for r in ROWS if r not in taken]


def _script(bench: Bench) -> list[Effect]:
    """A fixed eventful night."""
    for second in range(400):
        bench.say("drag", verdict(OWN_SHIP, SAYS[second // 45], "entered") or
                  Verdict(subject=OWN_SHIP, holds=None))  # fmt: skip
        bench.say("ring", *(v for n in (1, 2) if (v := verdict(ship(n), "holds", "entered"))))
        bench.tick()
        if second == 120:
            bench.command("ack", "ring")
    return bench.effects


def test_the_same_events_give_the_same_effects() -> None:
    """Byte for byte, and extra wake-ups between change nothing."""
    first = _script(Bench())

    class Restless(Bench):
        def tick(self) -> None:
            for part in (0.2, 0.5, 0.9):
                self.board.run_due(self.now_s + part)
                self.gather()
            super().tick()

    second = _script(Restless())
    lines = [e for e in first if isinstance(e, Record)]
    assert [e.transition for e in lines] == [e.transition for e in second if isinstance(e, Record)]
    assert msgspec.json.encode([e.transition for e in lines])
