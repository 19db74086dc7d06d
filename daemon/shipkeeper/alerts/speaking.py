"""One situation, one announcement: which alert speaks for which.

Grouping: the unanswered alerts of one rule are one announcement with a count; the first of
them (or a more urgent one) speaks, the others are on its list. Inhibition: an alert that only
repeats what another is telling is on the list with that one as its cause. It ends with the
cause's own announcement: accepting one alarm never hides another (IMO practice), so what then
still stands speaks for itself.
"""

from __future__ import annotations

from collections.abc import Callable

from ..words.alert import Priority
from . import announcing
from .desk import Desk, Instance
from .states import RAISED

GROUPED_KINDS = frozenset({"zone", "proximity", "distress"})
CAUSES = frozenset({"proximity", "distress", "feed", "drag"})
# Kinds that tell of one ship -> those of the same ship that they speak for.
SPOKEN_FOR = {"proximity": ("zone",), "distress": ("zone", "proximity")}


def arrange(desk: Desk, at_s: float) -> None:
    """Decide anew who speaks for whom; what has lost its speaker is announced."""
    unseen = list(desk.unseen())
    if not unseen:
        return
    causes, by_ship = _causes(desk)
    for instance in unseen:
        was = instance.cause
        mine = (*causes, *by_ship.get(instance.record.subject.key, ()))
        cause = next((c for c in mine if c is not instance and _covers(c, instance)), None)
        instance.cause = None if cause is None else cause.record.id
        if was is not None and cause is None:
            announcing.announce(desk, instance, "raised", at_s)
    leaders: dict[str, Instance] = {}
    for instance in unseen:
        leader = leaders.get(instance.slug)
        grouped = instance.record.kind in GROUPED_KINDS and instance.cause is None
        if grouped and (leader is None or _rank(instance) < _rank(leader)):
            leaders[instance.slug] = instance
    for instance in unseen:
        leader = leaders.get(instance.slug)
        if instance.cause is not None:
            instance.record.group = instance.cause
        elif leader is None or leader is instance:
            instance.record.group = None
        else:
            instance.record.group = leader.record.id


def _causes(desk: Desk) -> tuple[list[Instance], dict[str, list[Instance]]]:
    """Alerts that may speak for another: those that concern all, and those of one ship by her
    key. A ship speaks for herself only, and in a crowd there are hundreds of them."""
    causes: list[Instance] = []
    by_ship: dict[str, list[Instance]] = {}
    for one in desk.everything():
        if one.record.kind in CAUSES and one.phase in RAISED:
            if one.record.kind in SPOKEN_FOR:
                by_ship.setdefault(one.record.subject.key, []).append(one)
            else:
                causes.append(one)
    return causes, by_ship


def members(desk: Desk, leader: Instance) -> list[Instance]:
    """The unanswered alerts it speaks for, in the order in which they were raised."""
    led = [i for i in desk.unseen() if i.record.group == leader.record.id]
    return sorted(led, key=lambda i: (i.record.raised_s or 0.0, i.record.number))


def _rank(instance: Instance) -> tuple[int, bool, float, int]:
    """The most urgent first, then the one that speaks already, then the first raised."""
    record = instance.record
    told = record.group is None and not instance.fresh
    return -record.priority, not told, record.raised_s or 0.0, record.number


# -- inhibition: (what it is, cause, effect) ----------------------------------------------------


def _same_ship(cause: Instance, effect: Instance) -> bool:
    """A ship on a collision course speaks for her being in a zone too; a call for help speaks
    for the beacon's being there at all."""
    return (
        effect.record.kind in SPOKEN_FOR.get(cause.record.kind, ())
        and cause.record.subject.key == effect.record.subject.key
        and cause.is_unseen
        and cause.record.priority >= effect.record.priority
    )


def _dead_input(cause: Instance, effect: Instance) -> bool:
    """A dead input explains that the targets it brought are lost."""
    told = cause.record.facts
    if cause.record.kind != "feed" or cause.phase not in RAISED or cause.is_quiet:
        return False
    facts = effect.record.facts
    if facts.get("event") != "lost" and not facts.get("lost"):
        return False
    return facts.get("input") == told.get("input") or effect.record.rule in (
        told.get("affected") or ()
    )


def _drags(cause: Instance, effect: Instance) -> bool:
    """A dragging boat leaves every circle about her anchor: that is one event."""
    return (
        cause.record.kind == "drag"
        and cause.is_unseen
        and effect.record.kind == "zone"
        and effect.record.subject.kind == "own"
        and effect.record.facts.get("event") == "left"
        and effect.record.facts.get("around") == "anchor"
        and cause.record.priority >= effect.record.priority
    )


INHIBITIONS: tuple[Callable[[Instance, Instance], bool], ...] = (_same_ship, _dead_input, _drags)


def _covers(cause: Instance, effect: Instance) -> bool:
    if effect.record.priority is Priority.EMERGENCY:
        return False  # never spoken for
    return any(inhibits(cause, effect) for inhibits in INHIBITIONS)
