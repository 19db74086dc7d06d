"""The words: what a person reads at 3 a.m. What happened, how far, since when, what to do.

One function a kind (wording_ships, wording_boat, wording_watch) makes a title (at most 16
characters), a terse first line for a lock screen and the facts of the body from `verdict.facts`;
what is common to all (since when, age of data, which order, what to do) is added here. A missing
fact leaves its words out, never breaks a text. Names from the air are cleaned before they get
anywhere.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import cache
from typing import Any

import msgspec

from ..words.orders import RuleOrders
from ..words.timing import duration_text
from .phrases import Facts, Words, fit
from .wording_boat import contact, depth, drag, sensor, wind
from .wording_ships import distress, proximity, zone
from .wording_watch import drill, feed, own_parts, presence

OLD_S = 30.0  # from here on an age alone is hard to place in the night


def words_of(kind: str, orders: RuleOrders, facts: Facts) -> Words:
    """The words of one verdict of one kind."""
    make = KINDS.get(kind, plain)
    known = {key: value for key, value in facts.items() if _is_told(value)}
    try:
        made = make(orders, known)
    except (TypeError, ValueError, OverflowError):
        made = plain(orders, known)  # a fact of the wrong sort must not cost the alert
    return msgspec.structs.replace(made, title=fit(made.title))


def _is_told(value: Any) -> bool:
    """None, and numbers that are none, are left out like what was never said."""
    return value is not None and not (isinstance(value, float) and not math.isfinite(value))


def body(
    words: Words,
    orders: RuleOrders,
    *,
    raised: str | None,
    held_s: float | None,
    data_age_s: float | None,
    data_lost: bool,
    data_at: str | None = None,
    response: str = "",
) -> str:
    """The whole text: first line, more, since when, how old the data is, order, what to do.
    data_at: the UTC label of the data; told with its age once it is old."""
    stamp = f" ({data_at[11:19]} UTC)" if data_at and (data_age_s or 0.0) >= OLD_S else ""
    parts = [words.line, *words.more]
    if raised is not None:
        parts.append(
            f"Since {raised[11:19]} UTC" + (f" ({duration_text(held_s)})" if held_s else "")
        )
    if data_lost:
        last = f": last {_age(data_age_s)} ago{stamp}" if data_age_s else ""
        parts.append("Data is lost" + last)
    elif data_age_s is not None:
        parts.append(f"Data {_age(data_age_s)} old{stamp}")
    parts.append(f'Order "{orders.name}"')
    own_words = orders.response != _usual_response(type(orders))
    todo = response or (orders.response if own_words else words.todo or orders.response)
    text = ". ".join(part.rstrip(".") for part in parts if part) + "."
    if not todo:
        return text
    return f"{text} Do: {todo}" + ("" if todo.endswith((".", "?", "!")) else ".")


@cache
def _usual_response(kind: type[RuleOrders]) -> object:
    """What a kind of rule says to do when the orders do not say it in words of their own."""
    found = {one.name: one.default for one in msgspec.structs.fields(kind)}
    return found["response"]


def _age(seconds: float | None) -> str:
    return duration_text(seconds or 0.0)


def plain(orders: RuleOrders, f: Facts) -> Words:
    return Words(orders.name.upper(), orders.name)


KINDS: dict[str, Callable[[RuleOrders, Facts], Words]] = {
    "zone": zone,
    "proximity": proximity,
    "drag": drag,
    "depth": depth,
    "wind": wind,
    "sensor": sensor,
    "contact": contact,
    "feed": feed,
    "distress": distress,
    "presence": presence,
    "drill": drill,
    "self": own_parts,
}
