"""Delays, deadband and lost data of one condition, to the millisecond."""

from __future__ import annotations

from shipkeeper.alerts.condition import GOOD_DATA_S, Delays, Proof
from shipkeeper.alerts.states import Trigger

DELAYS = Delays(confirm_s=7.3, clear_s=61.7)
ZERO = Delays(confirm_s=0.0, clear_s=0.0)


def true_at(proof: Proof, at_s: float, at_once: bool = False) -> list[Trigger]:
    return proof.judged(True, False, at_once, at_s, DELAYS, raised=False)


def test_the_on_delay_runs_from_when_it_became_true() -> None:
    """Raised exactly `confirm` after the first true verdict, and not before."""
    proof = Proof()
    assert true_at(proof, 100.0) == [Trigger.CONDITION_TRUE]
    assert proof.on_due_s == 107.3
    assert true_at(proof, 105.0) == []
    assert proof.on_due_s == 107.3
    assert proof.since_s == 100.0


def test_a_false_verdict_ends_the_on_delay() -> None:
    """Pending ends when it holds no more, deadband or not."""
    proof = Proof()
    true_at(proof, 100.0)
    happened = proof.judged(False, False, False, 105.0, DELAYS, raised=False)
    assert happened == [Trigger.CONDITION_FALSE]
    assert proof.on_due_s is None
    assert proof.condition == "false"


def test_far_beyond_the_limit_needs_no_delay() -> None:
    """`at_once` raises at once, also in the middle of a delay."""
    assert true_at(Proof(), 100.0, at_once=True) == [Trigger.CONDITION_TRUE, Trigger.RAISE]
    proof = Proof()
    true_at(proof, 100.0)
    assert true_at(proof, 101.0, at_once=True) == [Trigger.RAISE]


def test_no_delay_raises_and_clears_at_once() -> None:
    """Delays of zero are zero."""
    proof = Proof()
    raised = proof.judged(True, False, False, 1.0, ZERO, raised=False)
    assert raised == [Trigger.CONDITION_TRUE, Trigger.RAISE]
    assert proof.judged(False, True, False, 2.0, ZERO, raised=True) == [Trigger.RECTIFY]


def active() -> Proof:
    proof = Proof()
    true_at(proof, 100.0)
    proof.run_due("on")
    return proof


def test_the_off_delay_runs_only_while_it_is_gone() -> None:
    """Inside the deadband the off-delay starts anew."""
    proof = active()
    proof.judged(False, True, False, 200.0, DELAYS, raised=True)
    assert (proof.condition, proof.off_due_s) == ("clearing", 261.7)
    proof.judged(False, False, False, 230.0, DELAYS, raised=True)
    assert (proof.condition, proof.off_due_s) == ("true", None)
    proof.judged(False, True, False, 231.0, DELAYS, raised=True)
    assert proof.off_due_s == 292.7
    assert proof.run_due("off") == [Trigger.RECTIFY]


def test_pending_goes_on_when_the_input_is_lost() -> None:
    """alerts.md 6.4: the on-delay keeps running as if true, and raises with lost data."""
    proof = Proof()
    true_at(proof, 100.0)
    assert proof.unknown(102.0, raised=False) == [Trigger.DATA_LOST]
    assert (proof.condition, proof.on_due_s) == ("pending", 107.3)
    proof.run_due("on")
    assert proof.data_lost


def test_active_never_clears_by_lack_of_data_and_the_off_delay_stops() -> None:
    """alerts.md 6.4: stays active; the off-delay cannot run."""
    proof = active()
    proof.judged(False, True, False, 200.0, DELAYS, raised=True)
    proof.unknown(210.0, raised=True)
    assert (proof.condition, proof.off_due_s, proof.data_lost) == ("true", None, True)


def test_data_counts_as_back_after_thirty_good_seconds() -> None:
    """alerts.md 6.3: only then may the off-delay begin; a new loss begins anew."""
    proof = active()
    proof.unknown(200.0, raised=True)
    proof.judged(False, True, False, 210.0, DELAYS, raised=True)
    assert (proof.good_due_s, proof.off_due_s) == (210.0 + GOOD_DATA_S, None)
    proof.unknown(220.0, raised=True)
    assert proof.good_due_s is None
    proof.judged(False, True, False, 230.0, DELAYS, raised=True)
    assert proof.good_due_s == 260.0
    assert proof.run_due("good") == [Trigger.DATA_BACK]
    proof.judged(False, True, False, 261.0, DELAYS, raised=True)
    assert proof.off_due_s == 322.7


def test_what_was_never_true_becomes_unknown_and_comes_back() -> None:
    """A rule at rest without data is unknown, and known again with the first good verdict."""
    proof = Proof()
    assert proof.unknown(1.0, raised=False) == [Trigger.DATA_LOST]
    assert proof.condition == "unknown"
    assert proof.unknown(2.0, raised=False) == []
    assert proof.judged(False, True, False, 3.0, DELAYS, raised=False) == [Trigger.DATA_BACK]
    assert (proof.condition, proof.data_lost) == ("false", False)


def test_the_end_leaves_nothing_running() -> None:
    """After `end` no delay is due any more."""
    proof = active()
    proof.judged(False, True, False, 200.0, DELAYS, raised=True)
    proof.end()
    assert (proof.on_due_s, proof.off_due_s, proof.good_due_s) == (None, None, None)
