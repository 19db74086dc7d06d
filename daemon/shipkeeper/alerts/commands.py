"""What a person may do with an alert: acknowledge, silence, shelve, take. Or be refused.

Acknowledgement is for one announcement, bound to the occurrence that the person saw; there is
none for all. From ashore it takes the alert over and stops the calls, but the sounder goes on
while the crew is aboard: a tap ashore is no proof that anyone is on deck. Silence lasts 30 s
and answers nothing; escalation goes on under it. Whoever cannot see the picture (a push, a
button) can only silence what takes a picture to judge.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any

from ..words.effects import Reply
from ..words.events import Command
from . import announcing, quieting, taking
from .desk import Desk, Instance, News
from .naming import find
from .states import OVER, UNSEEN, Phase, Refused, Trigger

Answer = tuple[int, str, dict[str, Any]]
GOOD, WITH_WARNING, REFUSED = 0, 1, 2
SEEING = frozenset({"command line"})  # channels that show range, bearing and age of data
ANSWERABLE = UNSEEN | {Phase.TRANSFERRED, Phase.RECTIFIED, Phase.LATCHED}


class Clerk:
    """Obeys commands, or refuses them with a reason."""

    def __init__(self, desk: Desk, duty: taking.Duty, seeing: Collection[str] = SEEING) -> None:
        self.desk = desk
        self.duty = duty
        self.seeing = frozenset(seeing)
        self._verbs: dict[str, Callable[[Command], Answer]] = {
            "ack": self._acknowledge_by_hand,
            "press": self._press,
            "silence": self._silence,
            "reset": self._reset,
            "shelve": lambda c: quieting.shelve(desk, self.named(c), c),
            "unshelve": lambda c: quieting.unshelve(desk, self.named(c), c),
            "out-of-service": lambda c: quieting.out_of_service(desk, c),
            "in-service": lambda c: quieting.in_service(desk, c),
            "take": self._take,
            "transfer": self._transfer,
            "hand-back": self._hand_back,
            "heartbeat": lambda c: taking.heartbeat(desk, c),
            "handover": lambda c: duty.hand_over(c),
        }

    def obey(self, command: Command) -> Reply:
        """Never raises for anything that a person can send."""
        act = self._verbs.get(command.verb)
        try:
            if act is None:
                raise Refused(f'there is no command "{command.verb}"')
            code, text, data = act(command)
        except Refused as refused:
            code, text, data = REFUSED, str(refused), {}
        return Reply(number=command.number, code=code, text=text, data=data)

    def named(self, command: Command) -> Instance:
        """The alert that the command means; raises Refused."""
        desk = self.desk
        wanted = str(command.args.get("id") or "")
        found = find(wanted, desk.everything())
        if isinstance(found, str):
            gone = find(wanted, desk.past.values())
            if not isinstance(gone, str):
                return gone
            standing = [i.record.id for i in desk.everything() if i.phase is not Phase.NORMAL]
            told = f"; standing: {', '.join(standing[:10])}" if standing else ""
            raise Refused(found + told)
        return found

    # -- the button --------------------------------------------------------------------------

    def _press(self, command: Command) -> Answer:
        """press --how short|long: the push button aboard. Short: whoever has the watch is there,
        and all sound stops for 30 s. Long: the one alert that calls is acknowledged; of several,
        or of one that takes a picture to judge, none. It is heard which of the two it was."""
        try:
            if command.args.get("how") == "long":
                answer = self._acknowledge(command)
            else:
                for instance in self.desk.everything():
                    if instance.record.kind == "presence" and instance.phase in ANSWERABLE:
                        self._acknowledge_one(instance, command)
                answer = self._silence(command)
        except Refused:
            self.desk.answer_by_ear(taken=False)
            raise
        self.desk.answer_by_ear(taken=answer[0] == GOOD)
        return answer

    def _acknowledge_by_hand(self, command: Command) -> Answer:
        """As `_acknowledge`; aboard it is heard, also by those who lie below."""
        answer = self._acknowledge(command)
        if command.where == "aboard" and answer[0] == GOOD:
            self.desk.answer_by_ear(taken=True)
        return answer

    # -- acknowledge -------------------------------------------------------------------------

    def _acknowledge(self, command: Command) -> Answer:
        """ack ID [occurrence] [seen]: one alert; or the name of a rule for its one list."""
        instances = self._meant(command)
        for instance in instances:
            self._check_seen(instance, command)
        blind = command.through not in self.seeing
        if blind and any(i.record.category == "A" and i.phase in UNSEEN for i in instances):
            return self._only_silenced(instances, command)
        done = [self._acknowledge_one(instance, command) for instance in instances]
        first, others = instances[0], tuple(i.record for i in instances[1:])
        who = command.who or "somebody"
        news = News(first, "acknowledged", command.at_s, f"{who} has it. ", others=others)
        self.desk.news.append(news)
        ids = [i.record.id for i in instances]
        data = {"ids": ids, "state": str(first.record.state)}
        if all(done):
            return GOOD, f"acknowledged: {', '.join(ids)}", data
        return (
            WITH_WARNING,
            (f"{who} has it: {', '.join(ids)}; the sound aboard goes on, since the crew is aboard"),
            data,
        )

    def _acknowledge_one(self, instance: Instance, command: Command) -> bool:
        """False: taken over only, the sound aboard goes on."""
        desk, record, at_s = self.desk, instance.record, command.at_s
        if instance.is_quiet:
            raise Refused(f"{record.id} is {record.state}; it calls for nobody")
        ashore = command.where == "ashore" and desk.crew == "aboard"
        answer = ashore and instance.phase in UNSEEN
        trigger = Trigger.ANSWER if answer else Trigger.ACKNOWLEDGE
        was_event = instance.is_event
        was_raised = instance.phase not in OVER
        who = (record.acknowledged_by, record.acknowledged_where, record.acknowledged_through)
        record.acknowledged_by, record.acknowledged_where = command.who, command.where
        record.acknowledged_through = command.through
        urgency = record.priority
        if not record.worse and trigger is Trigger.ACKNOWLEDGE:
            record.priority = record.base_priority  # it rose only because nobody answered
        try:
            desk.step(instance, trigger, at_s)
        except Refused as refused:
            record.acknowledged_by, record.acknowledged_where, record.acknowledged_through = who
            record.priority = urgency
            raise Refused(f"{record.id}: {refused}") from None
        record.acknowledged_s = at_s
        if answer:
            record.transferred_to = command.who or "somebody ashore"
        if was_event and was_raised and instance.phase is Phase.NORMAL:
            record.spent = record.facts.get("event") != "gap"
            instance.proof.end()
            record.cleared_s = at_s
            desk.settle(instance, at_s)
        _go_on_pending(desk, instance, at_s)
        announcing.answered(desk, instance, at_s)
        desk.keep(instance)
        desk.close_if_done(instance)
        return not answer

    def _meant(self, command: Command) -> list[Instance]:
        """The alert, or all on the list of the one announcement that a rule's name means."""
        desk = self.desk
        wanted = str(command.args.get("id") or "").strip().casefold()
        if not wanted:
            return [self._the_only_one()]
        if wanted in desk.by_rule:
            own = desk.own_instance(wanted)
            if own is None or own.phase not in ANSWERABLE:
                listed = [i for i in desk.of_rule(wanted) if i.phase in ANSWERABLE]
                if listed:
                    return listed
        return [self.named(command)]

    def _the_only_one(self) -> Instance:
        """A button names none: it answers the one that speaks, or none of several."""
        speaking = [i for i in self.desk.unseen() if i.record.group is None]
        if len(speaking) == 1:
            return speaking[0]
        if not speaking:
            raise Refused("nothing waits to be acknowledged")
        names = ", ".join(i.record.id for i in speaking)
        raise Refused(f"several call; acknowledge them one by one: {names}")

    def _check_seen(self, instance: Instance, command: Command) -> None:
        record, args = instance.record, command.args
        seen = args.get("occurrence")
        if seen is not None and seen != record.occurrence:
            over = isinstance(seen, int) and seen < record.occurrence
            which = f"that was occurrence {seen}, and it is over" if over else "no such occurrence"
            raise Refused(
                f"{record.id}: {which}; now it is occurrence {record.occurrence}: look again"
            )
        revision, seen_s = args.get("seen"), args.get("seen_at_s")
        stale = isinstance(revision, int) and revision < record.worse_revision
        if record.worse_s is not None and isinstance(seen_s, int | float):
            stale = stale or seen_s < record.worse_s
        if stale:
            raise Refused(f"{record.id} has got worse since that message: look again")

    def _only_silenced(self, instances: list[Instance], command: Command) -> Answer:
        quiet = [i for i in instances if self._silence_one(i, command.at_s)]
        names = ", ".join(i.record.id for i in quiet or instances)
        return (
            WITH_WARNING,
            (f"{names}: silenced only; look at the picture: it takes range and bearing"),
            {"silenced": [i.record.id for i in quiet]},
        )

    # -- silence and reset -------------------------------------------------------------------

    def _silence(self, command: Command) -> Answer:
        """silence [ID]: the sound stops for 30 s; nothing is acknowledged."""
        if command.args.get("id"):
            instance = self.named(command)
            if not self._silence_one(instance, command.at_s):
                raise Refused(f"{instance.record.id} does not sound")
            quiet = [instance]
        else:
            quiet = [i for i in self.desk.everything() if self._silence_one(i, command.at_s)]
        names = [i.record.id for i in quiet]
        if not names:
            return GOOD, "nothing sounds", {"silenced": []}
        for_s = self.desk.timings.silence_s
        return GOOD, f"silent for {for_s:g} s: {', '.join(names)}", {"silenced": names}

    def _silence_one(self, instance: Instance, at_s: float) -> bool:
        taken = instance.phase is Phase.TRANSFERRED and instance.record.silenced_until_s is None
        if instance.is_quiet or not (instance.phase is Phase.UNACK or taken):
            return False
        instance.record.silenced_until_s = round(at_s + self.desk.timings.silence_s, 3)
        self.desk.step(instance, Trigger.SILENCE, at_s)
        return True

    def _reset(self, command: Command) -> Answer:
        """reset ID: lets a latched alert go, or one of a lost target that was acknowledged."""
        instance = self.named(command)
        try:
            self.desk.step(instance, Trigger.RESET, command.at_s)
        except Refused as refused:
            raise Refused(f"{instance.record.id}: {refused}") from None
        if instance.proof.condition != "pending":
            instance.proof.end()
        instance.record.cleared_s = instance.record.cleared_s or command.at_s
        self.desk.settle(instance, command.at_s)
        _go_on_pending(self.desk, instance, command.at_s)
        self.desk.close_if_done(instance)
        return GOOD, f"{instance.record.id} reset", {"id": instance.record.id}

    # -- take and hand back ------------------------------------------------------------------

    def _take(self, command: Command) -> Answer:
        """take: you have the watch, until when; take ID: you have this alert."""
        if not command.args.get("id"):
            return self.duty.take(command)
        return self._give(command, command.who)

    def _transfer(self, command: Command) -> Answer:
        """transfer ID --to NAME"""
        return self._give(command, str(command.args.get("to") or "").strip())

    def _give(self, command: Command, taker: str) -> Answer:
        instance = self.named(command)
        if not taker:
            raise Refused("to whom? a name is needed")
        if instance.is_quiet:
            raise Refused(f"{instance.record.id} is {instance.record.state}")
        taking.take_over(self.desk, instance, taker, command)
        lead = f"{taker} has it. "
        self.desk.news.append(News(instance, "acknowledged", command.at_s, lead))
        return GOOD, f"{instance.record.id}: {taker} has it", {"id": instance.record.id}

    def _hand_back(self, command: Command) -> Answer:
        instance = self.named(command)
        taking.hand_back(self.desk, instance, command.at_s)
        return GOOD, f"{instance.record.id} handed back", {"id": instance.record.id}


def _go_on_pending(desk: Desk, instance: Instance, at_s: float) -> None:
    """It was answered while it is about to come true again: the on-delay goes on."""
    if instance.phase is Phase.NORMAL and instance.proof.condition == "pending":
        desk.step(instance, Trigger.CONDITION_TRUE, at_s)
