"""The table of states.py: every row reached on the real board, everything else refused."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from pathlib import Path

import msgspec
import pytest
from tests.unit.alerts.bench import RULES, Bench, cannot_tell, gone, holds

from shipkeeper.alerts.desk import Instance
from shipkeeper.alerts.states import (
    OVER,
    PUBLISHED,
    QUIET,
    RAISED,
    ROWS,
    Phase,
    Quiet,
    Refused,
    Row,
    Suppression,
    Trigger,
    diagram,
    find_row,
    flat,
    next_suppression,
    published,
    released,
)
from shipkeeper.words.alert import OWN_SHIP, State
from shipkeeper.words.orders import RuleOrders
from shipkeeper.words.verdict import Verdict

P, T = Phase, Trigger
TRAITS = ("loud", "caution", "latch", "free", "event", "lasting", "lost", "")


def rules_for(row: Row) -> dict[str, RuleOrders]:
    """Orders under which the row's traits hold: one rule, 'drag', of the right sort."""
    orders = msgspec.structs.replace(RULES["drag"], confirm_s=2.0, clear_s=2.0)
    if row.needs == "caution" or row.phase is P.ACTIVE:
        orders = msgspec.structs.replace(orders, priority="caution")
    elif row.needs == "latch" or row.phase in (P.LATCHED, P.LATCHED_ACK):
        orders = msgspec.structs.replace(orders, latch=True)
    elif row.trigger in (T.ESCALATE, T.OUTRANKED):
        orders = msgspec.structs.replace(orders, priority="warning")
    return {"drag": orders, "float": RULES["float"]}


def verdict(row: Row, *, worse: bool = False) -> Verdict:
    facts = {"event": "left"} if row.needs == "event" else {}
    return holds(facts=facts, worse=worse)


def reach(bench: Bench, row: Row) -> None:
    """Bring the alert 'drag' into the row's phase."""
    bench.run(11)  # past the grace after a watch is set
    if row.phase is P.UNKNOWN:
        bench.judge("drag", missing=("position",))
    elif row.phase is not P.NORMAL:
        bench.judge("drag", verdict(row))
        if row.phase is not P.PENDING:
            bench.run(3)
            reach_raised(bench, row)


def reach_raised(bench: Bench, row: Row) -> None:
    """From raised on."""
    if row.phase is P.SILENCED:
        if row.trigger is T.ESCALATE:
            bench.wait(40.0)  # so that the silence outlasts the minute
        elif row.trigger is T.DATA_BACK:
            bench.judge("drag", missing=("position",))
            bench.say("drag", verdict(row))
            bench.run(20)  # so that data is good while it is silenced
        bench.command("silence", "drag")
    elif row.phase is P.ACK:
        bench.command("ack", "drag")
    elif row.phase is P.TRANSFERRED and row.trigger in (T.SILENCE, T.SILENCE_OVER, T.OUTRANKED):
        bench.command("ack", "drag", where="ashore")
        if row.trigger is not T.SILENCE:
            bench.command("silence")
    elif row.phase is P.TRANSFERRED:
        bench.command("transfer", "drag", to="Bob")
    elif row.phase in OVER:
        bench.say("drag", gone())
        bench.run(4)
        if row.phase is P.LATCHED_ACK:
            bench.command("ack", "drag")
    if row.needs == "lost":
        bench.judge("drag", cannot_tell())


def _raise(bench: Bench, row: Row) -> None:
    bench.say("drag", verdict(row))
    bench.run(3)


def _rectify(bench: Bench, row: Row) -> None:
    bench.say("drag", gone())
    bench.run(4)


def _restart(bench: Bench, row: Row) -> None:
    bench.restarted()


def _obey(bench: Bench, verb: str, **more: str) -> None:
    reply = bench.command(verb, "drag", **more)
    assert reply.code < 2, reply.text


def _condition_false(bench: Bench, row: Row) -> None:
    if row.phase is not P.PENDING:
        bench.judge("drag", verdict(row))
    bench.judge("drag", gone())


def _data_back(bench: Bench, row: Row) -> None:
    if not bench.record("drag").data_lost:
        bench.judge("drag", missing=("position",))
    raised = row.phase in RAISED
    bench.say("drag", verdict(row) if raised else gone())
    bench.run(32 if raised else 1)


ACTS: dict[Trigger, Callable[[Bench, Row], None]] = {
    T.DATA_LOST: lambda b, r: b.judge("drag", missing=("position",)),
    T.DATA_BACK: _data_back,
    T.CONDITION_TRUE: lambda b, r: b.judge("drag", verdict(r)),
    T.CONDITION_FALSE: _condition_false,
    T.RAISE: _raise,
    T.RECTIFY: _rectify,
    T.ACKNOWLEDGE: lambda b, r: _obey(b, "ack"),
    T.ANSWER: lambda b, r: _obey(b, "ack", where="ashore"),
    T.SILENCE: lambda b, r: _obey(b, "silence"),
    T.SILENCE_OVER: lambda b, r: b.wait(30.0),
    T.OUTRANKED: lambda b, r: b.judge("float", holds()),
    T.ESCALATE: lambda b, r: b.wait(60.0),
    T.WORSEN: lambda b, r: b.judge("drag", verdict(r, worse=True)),
    T.REPEAT: lambda b, r: b.wait(1800.0),
    T.TRANSFER: lambda b, r: _obey(b, "transfer", to="Bob"),
    T.HAND_BACK: lambda b, r: _obey(b, "hand-back"),
    T.TAKER_LOST: lambda b, r: b.wait(120.0),
    T.RESET: lambda b, r: _obey(b, "reset"),
    T.RESTART: _restart,
    T.WITHDRAW: lambda b, r: b.set_watch("underway"),
}


def named(row: Row) -> str:
    return f"{row.phase.name}-{row.trigger.name}-{row.needs or 'any'}"


@pytest.mark.parametrize("row", ROWS, ids=named)
def test_every_row_is_taken_on_the_real_board(row: Row, monkeypatch: pytest.MonkeyPatch) -> None:
    """From the row's phase its trigger leads to its phase, and no other row is used for it."""
    taken: list[Row] = []

    def watching(phase: Phase, trigger: Trigger, traits: frozenset[str]) -> Row:
        found = find_row(phase, trigger, traits)
        taken.append(found)
        return found

    monkeypatch.setattr("shipkeeper.alerts.desk.find_row", watching)
    bench = Bench(rules=rules_for(row))
    reach(bench, row)
    assert phase_of(bench) is row.phase
    ACTS[row.trigger](bench, row)
    assert row in taken, [named(r) for r in taken]


def phase_of(bench: Bench) -> Phase:
    instance: Instance | None = bench.board.desk.by_rule["drag"].get(OWN_SHIP.key)
    return P.NORMAL if instance is None else instance.phase


@pytest.mark.parametrize("phase", Phase)
def test_every_other_pair_is_refused_with_a_reason(phase: Phase) -> None:
    """What is not in the table is refused, in words a person can read."""
    pairs = {(row.phase, row.trigger) for row in ROWS}
    for trigger in Trigger:
        if (phase, trigger) in pairs:
            continue
        for trait in TRAITS:
            with pytest.raises(Refused) as refused:
                find_row(phase, trigger, frozenset((trait,)))
            assert len(str(refused.value)) > 10


def test_no_pair_of_rows_contradicts_another() -> None:
    """For any set of traits an alert can have, at most one row answers."""
    sets = [
        frozenset(x)
        for x in product(("loud", "caution"), ("latch", "free"), ("event", "lasting"), ("", "lost"))
    ]
    for phase, trigger, traits in product(Phase, Trigger, sets):
        found = [
            row for row in ROWS
            if row.phase is phase and row.trigger is trigger
            and (not row.needs or row.needs in traits)
        ]  # fmt: skip
        assert len(found) <= 1, (phase, trigger, traits)


def test_lost_data_never_leaves_a_phase_but_normal() -> None:
    """alerts.md 6.4: an active or pending alert is only marked when its input is lost."""
    for row in ROWS:
        if row.trigger is T.DATA_LOST and row.phase is not P.NORMAL:
            assert row.to is row.phase


@pytest.mark.parametrize("now", Suppression)
@pytest.mark.parametrize("what", Quiet)
def test_suppression_is_a_table_too(now: Suppression, what: Quiet) -> None:
    """What QUIET does not have is refused."""
    if (now, what) in QUIET:
        assert next_suppression(now, what) is QUIET[now, what]
    else:
        with pytest.raises(Refused):
            next_suppression(now, what)


def test_the_flat_state_is_derived_and_suppression_lies_over_it() -> None:
    """Every phase has its published state; shelved and out of service cover it."""
    for phase in Phase:
        assert isinstance(flat(phase, Suppression.NONE), State)
        assert flat(phase, Suppression.SHELVED) is State.SHELVED
        assert flat(phase, Suppression.OUT_OF_SERVICE) is State.OUT_OF_SERVICE
    assert released(P.ACK) is P.UNACK
    assert released(P.ACTIVE) is P.ACTIVE
    assert released(P.NORMAL) is P.NORMAL


def test_lines_use_only_the_words_of_the_interface() -> None:
    """Latched and out of service are told in the words that DESIGN section 5 lists."""
    assert published(State.UNKNOWN) is State.UNKNOWN
    assert set(PUBLISHED.values()) <= {State.RECTIFIED, State.ACKNOWLEDGED, State.SHELVED}


def test_the_diagram_has_every_arrow_of_the_table() -> None:
    """Each step that leads elsewhere, or is logged, is drawn."""
    drawn = diagram()
    for row in ROWS:
        if row.phase is not row.to or row.logged:
            assert f"{row.phase.name} --> {row.to.name} :" in drawn
            assert str(row.trigger) in drawn


def test_the_diagram_in_developers_is_made_from_the_table() -> None:
    """Change the table and the page must follow."""
    page = (Path(__file__).parents[3] / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert f"```mermaid\n{diagram()}```" in page
