"""Names of alerts: the id that machines and people use, and finding one by what was typed.

An id is the slug of the rule's name, with the tail of the subject's key when the subject is
not own ship: 'drag', 'inner-guard-zone:299001234', 'inner-guard-zone:radar-12', 'feed:gnss'.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Protocol, TypeVar

from ..words.alert import AlertRecord, Subject

_NOT_SLUG = re.compile(r"[^a-z0-9]+")
_LISTED = 5
SHORT_KEYS = frozenset({"ais", "input", "part"})  # told by the tail of the key alone


class HasRecord(Protocol):
    """Anything that carries an alert's record."""

    @property
    def record(self) -> AlertRecord: ...


Found = TypeVar("Found", bound=HasRecord)


def slug_of(name: str) -> str:
    """'Inner guard zone' -> 'inner-guard-zone'. A name without a letter or digit: 'rule'."""
    return _NOT_SLUG.sub("-", name.casefold()).strip("-") or "rule"


def alert_id(slug: str, subject: Subject) -> str:
    """The alert's id; lasting for as long as the subject's key lasts."""
    if subject.kind == "own":
        return slug
    head, _, tail = subject.key.partition(":")
    name = slug_of(tail or head)
    return f"{slug}:{name}" if head in SHORT_KEYS else f"{slug}:{slug_of(head)}-{name}"


def find(text: str, candidates: Iterable[Found]) -> Found | str:
    """The one meant by an id, a number ('7', '#7') or the unambiguous start of an id.

    Returns the candidate, or the reason why there is none, for a person.
    """
    wanted = text.strip().casefold()
    if not wanted:
        return "which alert? give its id or its number"
    held = list(candidates)
    for one in held:
        if one.record.id == wanted:
            return one
    digits = wanted.removeprefix("#")
    if digits.isascii() and digits.isdigit():
        for one in held:
            if one.record.number == int(digits) != 0:
                return one
    starts = [one for one in held if one.record.id.startswith(wanted)]
    if len(starts) == 1:
        return starts[0]
    if starts:
        some = ", ".join(one.record.id for one in starts[:_LISTED])
        more = " ..." if len(starts) > _LISTED else ""
        return f'"{text}" may mean several: {some}{more}'
    return f'there is no alert "{text}"'
