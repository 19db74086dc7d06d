"""Names of alert instances: what a person types after `ack`, and what the journal holds."""

from __future__ import annotations

import re

from ..words.alert import OWN_SHIP, Subject


def slug_of(name: str) -> str:
    """'inner guard zone' -> 'inner-guard-zone'."""
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-") or "rule"


def alert_id(slug: str, subject: Subject) -> str:
    """The rule's slug alone for own ship; with the subject's lasting key for all others."""
    if subject.key == OWN_SHIP.key:
        return slug
    head, _, tail = subject.key.partition(":")
    return f"{slug}:{tail}" if head in ("ais", "input", "part") else f"{slug}:{head}-{tail}"
