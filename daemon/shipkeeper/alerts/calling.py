"""Calling: which message goes to which outlet, and everyone paged hears the end of it.

Raises of one order in one moment make one message with a list. Those who were told of an
alert are told who has it, and when it cleared. Outlets that keep a record (syslog) are told
every transition; others only what is at or above their `from_priority`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

from ..words.alert import AlertRecord, Priority, State
from ..words.effects import Effect, Message, Send
from ..words.orders import OutletTable
from .states import PUBLISHED, Step

Event = Literal["raised", "cleared", "acknowledged", "repeat", "state", "note"]
_RAISES = frozenset(
    {
        Step.RAISE,
        Step.RAISE_CAUTION,
        Step.WORSE,
        Step.ESCALATE,
        Step.REPEAT,
        Step.HAND_BACK,
        Step.RESTART,
    }
)
LISTED = 20


class Caller:
    """Makes messages; the board says when."""

    def __init__(self, outlets: Sequence[OutletTable], label: Callable[[float], str]) -> None:
        self.outlets = tuple(outlets)
        self.label = label
        self._edge = [o for o in self.outlets if o.sort == "edge"]
        self._all = {o.name for o in self._edge if o.reader == "machine"}
        self._raised: list[tuple[AlertRecord, float]] = []
        self._sends: list[Effect] = []

    @property
    def waiting(self) -> bool:
        return bool(self._raised or self._sends)

    def stepped(self, record: AlertRecord, before: State, what: Step, at_s: float) -> None:
        """A step was taken: who is told?"""
        for name in sorted(self._all):
            self._send(record, name, "state", at_s, record.text)
        if record.shelved_until_s is not None:
            return
        if what in _RAISES and record.state in (State.UNACKNOWLEDGED, State.ACTIVE):
            self._raised.append((record, at_s))
        elif record.state in (State.ACKNOWLEDGED, State.TRANSFERRED) and what in (
            Step.ACKNOWLEDGE,
            Step.TRANSFER,
        ):
            who = record.acknowledged_by or "somebody"
            self._to_paged(record, "acknowledged", at_s, f"{who} has it. {record.text}")
        elif what in (Step.RECTIFY, Step.LATCH, Step.WITHDRAW) and before is not State.UNKNOWN:
            self._to_paged(record, "cleared", at_s, record.text)

    def repeat(self, record: AlertRecord, who: tuple[str, ...] | None, at_s: float) -> None:
        """Nobody answered: call again, and call more."""
        self._to(record, "repeat", at_s, who)

    def tell(self, record: AlertRecord, event: Event, at_s: float) -> None:
        if record.state is State.UNACKNOWLEDGED:
            self._to(record, event, at_s, None)

    def take(self) -> list[Effect]:
        """The messages of this moment: the raises of one order as one."""
        raised, self._raised = self._raised, []
        leaders = [(r, at_s) for r, at_s in raised if r.group is None]
        spoken = {r.id for r, _ in leaders}
        for record, at_s in leaders:
            others = [r for r, _ in raised if r.group == record.id]
            self._to(record, "raised", at_s, None, others)
        for record, _ in raised:
            # Its leader was told earlier: it stays on the list, nobody is called again for it.
            if record.group is not None and record.group not in spoken:
                record.paged = ()
        sends, self._sends = self._sends, []
        return sends

    def _to(
        self,
        record: AlertRecord,
        event: Event,
        at_s: float,
        who: tuple[str, ...] | None,
        others: Sequence[AlertRecord] = (),
    ) -> None:
        text = record.text
        if others:
            names = [r.subject.name for r in others[:LISTED]]
            rest = f" and {len(others) - LISTED} more" if len(others) > LISTED else ""
            text = f"{1 + len(others)} together: also {', '.join(names)}{rest}. {text}"
        names_called = self._called(record, who)
        for name in names_called:
            self._send(record, name, event, at_s, text)
        record.paged = tuple(sorted({*record.paged, *names_called}))

    def _to_paged(self, record: AlertRecord, event: Event, at_s: float, text: str) -> None:
        for name in record.paged:
            self._send(record, name, event, at_s, text)

    def _called(self, record: AlertRecord, who: tuple[str, ...] | None) -> list[str]:
        """Outlets called now. who None: the rule's own, or all; else those besides."""
        named = {*(record.call or ()), *(who or ())}
        return [
            o.name
            for o in self._edge
            if o.name not in self._all
            and record.priority >= Priority.from_label(o.from_priority)
            and (record.call is None or o.name in named)
        ]

    def _send(self, record: AlertRecord, outlet: str, event: Event, at_s: float, text: str) -> None:
        state = PUBLISHED.get(record.state, record.state)
        line = text.partition(". ")[0]
        self._sends.append(
            Send(
                message=Message(
                    id=f"{record.id}/{record.occurrence}/{record.revision}/{record.level}"
                    f"/{event}/{outlet}/{round(at_s * 1000)}",
                    outlet=outlet,
                    at_s=at_s,
                    at=self.label(at_s),
                    event=event,
                    about=record.id,
                    number=record.number,
                    occurrence=record.occurrence,
                    priority=record.priority,
                    state=str(State.SHELVED if record.shelved_until_s is not None else state),
                    title=record.title,
                    line=line,
                    text=text,
                    rule=record.rule,
                    subject=record.subject.name,
                    value=record.value,
                    limit=record.limit,
                    unit=record.unit,
                    lat=record.lat,
                    lon=record.lon,
                    drill=record.drill,
                )
            )
        )
