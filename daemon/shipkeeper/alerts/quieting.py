"""Shelved and out of service: an alert kept quiet by a person's word, with a reason and an end.

Both lie over the alert, which is judged and journalled all the same. A shelf ends by itself, at
the second; an alarm is shelved for an hour at most. Out of service is of a whole rule, for as
long as it is being mended, with a reminder a day. What watches the watch cannot be shelved.
"""

from __future__ import annotations

from typing import Any

from ..words.alert import OWN_SHIP, Priority, Reason
from ..words.events import Command
from ..words.timing import duration_text
from . import announcing
from .desk import OWN_KIND, Desk, Instance, own_verdict
from .judging import is_per_target
from .naming import slug_of
from .states import Phase, Quiet, Refused, Suppression, next_suppression

Answer = tuple[int, str, dict[str, Any]]
NEVER = frozenset({"feed", OWN_KIND})
SERVICE = "out-of-service"  # the reminder of rules that are out of service


def shelve(desk: Desk, instance: Instance, command: Command) -> Answer:
    """shelve ID --for 30min --why TEXT [once]"""
    record, args, timings = instance.record, command.args, desk.timings
    if record.kind in NEVER:
        raise Refused("the watch's own health cannot be shelved")
    why = str(args.get("why") or "").strip()
    if not why:
        raise Refused("a reason is needed: --why TEXT")
    most_s = timings.shelf_max_s
    if record.priority >= Priority.ALARM:
        most_s = timings.shelf_max_alarm_s
    for_s = args.get("for_s")
    for_s = timings.shelf_s if for_s is None else for_s
    if isinstance(for_s, bool) or not isinstance(for_s, int | float) or not 0 < for_s <= most_s:
        what = f"an {record.priority.label}" if most_s < timings.shelf_max_s else "an alert"
        raise Refused(f"{what} is shelved for {duration_text(most_s)} at most, not longer")
    try:
        after = next_suppression(instance.suppression, Quiet.SHELVE)
    except Refused as refused:
        raise Refused(f"{record.id}: {refused}") from None
    if instance.phase is Phase.NORMAL:
        instance = desk.open(instance.slug, record.subject)  # back from the past
    record.shelved_until_s = round(command.at_s + for_s, 3)
    record.shelved_why = why
    record.shelved_one_shot = bool(args.get("once"))
    _stop_calls(desk, instance)
    desk.suppress(instance, after, Reason.SHELVE, command.at_s)
    until = desk.label(record.shelved_until_s)
    return 0, f"{record.id} shelved until {until}: {why}", {"id": record.id, "until": until}


def unshelve(desk: Desk, instance: Instance, command: Command) -> Answer:
    """unshelve ID"""
    if instance.suppression is not Suppression.SHELVED:
        raise Refused(f"{instance.record.id} is not shelved")
    announcing.leave_quiet(desk, instance, Quiet.UNSHELVE, command.at_s)
    return 0, f"{instance.record.id} off the shelf", {"id": instance.record.id}


def pre_shelvable(desk: Desk, name: str) -> Instance | None:
    """A rule about own ship can be shelved before anything is raised."""
    slug = slug_of(name) if name else ""
    if slug not in desk.rules or slug == OWN_KIND or is_per_target(desk, slug):
        return None
    return desk.own_instance(slug) or desk.open(slug, OWN_SHIP)


def out_of_service(desk: Desk, command: Command) -> Answer:
    """out-of-service RULE --why TEXT"""
    slug = _rule(desk, command)
    why = str(command.args.get("why") or "").strip()
    if desk.orders_of(slug).table in NEVER or slug == OWN_KIND:
        raise Refused("what watches the watch stays in service")
    if not why:
        raise Refused("a reason is needed: --why TEXT")
    if slug in desk.out_of_service:
        raise Refused(f"{slug} is out of service already: {desk.out_of_service[slug]}")
    desk.open(slug, OWN_SHIP)  # so that the list always shows it
    desk.out_of_service[slug] = why
    for instance in desk.of_rule(slug):
        after = next_suppression(instance.suppression, Quiet.OUT)
        record = instance.record
        record.shelved_until_s, record.shelved_one_shot = None, False
        record.shelved_why = why
        _stop_calls(desk, instance)
        desk.suppress(instance, after, Reason.SHELVE, command.at_s)
    remind_later(desk, command.at_s)
    return 0, f"{slug} out of service: {why}", {"rule": slug}


def in_service(desk: Desk, command: Command) -> Answer:
    """in-service RULE"""
    slug = _rule(desk, command)
    if slug not in desk.out_of_service:
        raise Refused(f"{slug} is in service")
    bring_back(desk, slug, command.at_s)
    return 0, f"{slug} in service again", {"rule": slug}


def bring_back(desk: Desk, slug: str, at_s: float) -> None:
    del desk.out_of_service[slug]
    for instance in desk.of_rule(slug):
        if instance.suppression is Suppression.OUT_OF_SERVICE:
            announcing.leave_quiet(desk, instance, Quiet.IN, at_s)
    desk.own_words.append((own_verdict(SERVICE, False), at_s))
    remind_later(desk, at_s)


def fire_service(desk: Desk, at_s: float) -> None:
    """A day has passed: the reminder comes anew."""
    facts = {"what": "service", "rules": sorted(desk.out_of_service)}
    desk.own_words.append((own_verdict(SERVICE, False), at_s))
    if desk.out_of_service:
        desk.own_words.append((own_verdict(SERVICE, True, facts), at_s))
    remind_later(desk, at_s)


def remind_later(desk: Desk, at_s: float) -> None:
    due_s = round(at_s + desk.timings.service_reminder_s, 3) if desk.out_of_service else None
    desk.timers.set("service", "service", due_s)


def _rule(desk: Desk, command: Command) -> str:
    name = str(command.args.get("id") or command.args.get("rule") or "")
    slug = slug_of(name.partition(":")[0]) if name else ""
    if slug not in desk.rules:
        known = ", ".join(s for s in desk.rules if s != OWN_KIND)
        raise Refused(f'there is no rule "{name}"; there are: {known}')
    return slug


def _stop_calls(desk: Desk, instance: Instance) -> None:
    record = instance.record
    for kind in ("escalate", "people"):
        desk.timers.set(kind, record.id, None)
    record.silenced_until_s, record.group = None, None
    instance.fresh = False
    if instance.phase is Phase.SILENCED:
        instance.phase = Phase.UNACK  # the silence ends; what comes after the shelf is afresh
