"""From a record to its words: what wording.py says of the facts, put into title and text."""

from __future__ import annotations

from collections.abc import Callable

from ..words.alert import ACTIVE, AlertRecord, State
from ..words.orders import RuleOrders
from ..words.timing import duration_text
from . import phrases, wording


def describe(
    record: AlertRecord, orders: RuleOrders, at_s: float, label: Callable[[float], str]
) -> None:
    """Set title and text for this moment."""
    said = wording.words_of(record.kind, orders, record.facts)
    record.title = said.title
    raised = record.raised_s
    if record.announcement == "unknown":
        text = f'Order "{orders.name}" cannot be judged: data is lost. Look for yourself.'
    elif raised is None and record.condition in ("false", "unknown"):
        text = f'Order "{orders.name}" can be judged again, and nothing holds.'
    elif raised is None and record.condition == "pending" and not record.occurrence:
        text = f'Order "{orders.name}" is being confirmed: {said.line.rstrip(".")}.'
    elif record.occurrence and record.condition not in ("true", "clearing", "pending") and raised:
        lasted = duration_text((record.cleared_s or at_s) - raised)
        text = f"Cleared after {lasted}. It was: {said.line.rstrip('.')}."
        if record.state in (State.RECTIFIED, State.LATCHED):
            text += " Not acknowledged yet."
        if record.state in (State.LATCHED, State.LATCHED_ACKNOWLEDGED):
            text += f" Kept until somebody resets it: shipkeeper reset {record.id}."
    else:
        text = wording.body(
            said,
            orders,
            raised=label(raised) if raised is not None else None,
            held_s=at_s - raised if raised is not None else None,
            data_age_s=_age(record.data_at_s, at_s),
            data_lost=record.data_lost,
            data_at=None if record.data_at_s is None else label(record.data_at_s),
        )
    record.text = _lead(record) + text + _tail(record, label)


def describe_end(record: AlertRecord, orders: RuleOrders, at_s: float) -> None:
    """Set the text of an alert whose order stands no more: nobody says that it is well again."""
    said = wording.words_of(record.kind, orders, record.facts)
    record.title = said.title
    text = f'Order "{orders.name}" is watched no more.'
    if record.raised_s is not None:
        lasted = duration_text(at_s - record.raised_s)
        text += f" Raised {lasted} before: {said.line.rstrip('.')}."
    record.text = _lead(record) + text


def first_line(record: AlertRecord, orders: RuleOrders) -> str:
    """The terse line for a lock screen, with its priority."""
    said = wording.words_of(record.kind, orders, record.facts)
    drill = "DRILL " if record.drill else ""
    return f"{drill}{record.priority.label.upper()}: {said.line}"


def _lead(record: AlertRecord) -> str:
    lead = "DRILL. " if record.drill else ""
    if record.restored and record.state in ACTIVE:
        lead += "Restored after restart. "
    return lead


def _tail(record: AlertRecord, label: Callable[[float], str]) -> str:
    tail = ""
    if record.folded:
        tail += f" Came back {record.folded} times; told as one."
    if record.state is State.SHELVED and record.shelved_until_s is not None:
        until = label(record.shelved_until_s)[11:16]
        tail += f" Shelved until {until} UTC: {phrases.clean(record.shelved_why, phrases.WHY_MAX)}."
    elif record.state is State.OUT_OF_SERVICE:
        tail += f" Out of service: {phrases.clean(record.shelved_why, phrases.WHY_MAX)}."
    elif record.state is State.TRANSFERRED and record.transferred_to:
        tail += f" {phrases.clean(record.transferred_to)} has it."
    return tail


def _age(data_at_s: float | None, at_s: float) -> float | None:
    return None if data_at_s is None else round(max(0.0, at_s - data_at_s), 1)
