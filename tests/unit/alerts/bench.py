"""A board on a simulated clock: verdicts in, effects out, one grid second at a time.

Nothing here is a mock: it is the real board, with orders of our own, driven as the engine
drives it (timers before events, rules judged each whole second, then what is due).
"""

from __future__ import annotations

from typing import Any, ClassVar, Literal

from shipkeeper.alerts.board import Board
from shipkeeper.alerts.timings import Timings
from shipkeeper.words.alert import OWN_SHIP, AlertRecord, State, Subject, Transition
from shipkeeper.words.effects import (
    Effect,
    Keep,
    Message,
    Record,
    Remember,
    Reply,
    Send,
    Show,
    Wanted,
)
from shipkeeper.words.events import Command
from shipkeeper.words.orders import CallListEntry, OutletTable, RuleOrders, Vessel
from shipkeeper.words.remembered import Remembered
from shipkeeper.words.timing import utc_text
from shipkeeper.words.verdict import Judgement, Verdict

START_S = 1_781_234_000.0  # an invented night


class Phone(OutletTable, frozen=True, kw_only=True):
    """An edge outlet that a person reads."""


class Log(OutletTable, frozen=True, kw_only=True):
    """An edge outlet that a machine reads."""

    reader: ClassVar[Literal["person", "machine"]] = "machine"


class Buzzer(OutletTable, frozen=True, kw_only=True):
    """A level outlet."""

    sort: ClassVar[Literal["edge", "level"]] = "level"


class DragOrders(RuleOrders, frozen=True, kw_only=True):
    table: ClassVar[str] = "drag"


class ZoneOrders(RuleOrders, frozen=True, kw_only=True):
    table: ClassVar[str] = "zone"


class ProximityOrders(RuleOrders, frozen=True, kw_only=True):
    table: ClassVar[str] = "proximity"


class WindOrders(RuleOrders, frozen=True, kw_only=True):
    table: ClassVar[str] = "wind"


class SensorOrders(RuleOrders, frozen=True, kw_only=True):
    table: ClassVar[str] = "sensor"


class ContactOrders(RuleOrders, frozen=True, kw_only=True):
    table: ClassVar[str] = "contact"


class FeedOrders(RuleOrders, frozen=True, kw_only=True):
    table: ClassVar[str] = "feed"


RULES: dict[str, RuleOrders] = {
    "drag": DragOrders(
        name="drag", priority="alarm", confirm_s=20.0, clear_s=120.0, watches=("anchored",)
    ),
    "ring": ZoneOrders(name="ring", priority="warning", confirm_s=0.0, clear_s=60.0),
    "close": ProximityOrders(name="close", priority="alarm", confirm_s=10.0, clear_s=60.0),
    "blow": WindOrders(name="blow", priority="warning", confirm_s=5.0, clear_s=300.0),
    "battery": SensorOrders(name="battery", priority="caution", confirm_s=2.0, clear_s=10.0),
    "hatch": ContactOrders(
        name="hatch", priority="warning", confirm_s=0.0, clear_s=0.0, latch=True
    ),
    "float": ContactOrders(name="float", priority="emergency alarm", confirm_s=0.0, clear_s=0.0),
    "feed": FeedOrders(name="feed", priority="alarm", confirm_s=0.0, clear_s=30.0),
}
OUTLETS: tuple[OutletTable, ...] = (
    Buzzer(name="buzzer"),
    Phone(name="skipper", from_priority="warning"),
    Phone(name="mate", from_priority="warning"),
    Log(name="log"),
)
CALL_LIST = (CallListEntry(after_s=30.0, call=("mate",)),)


class Bench:
    """See the module's first lines."""

    def __init__(
        self,
        rules: dict[str, RuleOrders] | None = None,
        outlets: tuple[OutletTable, ...] = OUTLETS,
        call_list: tuple[CallListEntry, ...] = CALL_LIST,
        watch: str = "anchored",
        crew: str = "aboard",
        start_s: float = START_S,
        timings: Timings | None = None,
    ) -> None:
        self.board = Board(
            rules=rules or RULES,
            call_list=call_list,
            outlets=outlets,
            vessel=Vessel(name="Curlew", length_m=11.4, beam_m=3.6),
            label=utc_text,
            timings=timings,
        )
        self.now_s = start_s
        self.effects: list[Effect] = []
        self.sound = Wanted(pattern="silence")
        self.shown: Show | None = None
        self.said: dict[str, Judgement] = {}  # what each rule goes on saying
        if watch:
            self.board.set_watch(watch, crew, start_s)
            self.gather()
        self.number = 0

    # -- time and what rules say ---------------------------------------------------------------

    def say(self, slug: str, *verdicts: Verdict, missing: tuple[str, ...] = ()) -> None:
        """From now on the rule says this each second."""
        self.said[slug] = Judgement(tuple(verdicts), missing)

    def tick(self) -> None:
        """One whole second: due timers before it, then the rules, then what is due."""
        grid_s = self.now_s + 1.0
        self._timers_before(grid_s)
        self.now_s = grid_s
        for slug, judgement in self.said.items():
            self.board.judged(slug, judgement, grid_s)
        self.board.run_due(grid_s)
        self.gather()

    def run(self, for_s: float) -> None:
        """So many whole seconds."""
        for _ in range(round(for_s)):
            self.tick()

    def judge(self, slug: str, *verdicts: Verdict, missing: tuple[str, ...] = ()) -> None:
        """What the rule says at this very moment."""
        self.say(slug, *verdicts, missing=missing)
        self.board.judged(slug, self.said[slug], self.now_s)
        self.gather()

    def wait(self, for_s: float) -> None:
        """Only timers: nothing is judged meanwhile."""
        end_s = round(self.now_s + for_s, 3)
        self._timers_before(end_s)
        self.now_s = end_s
        self.board.run_due(self.now_s)
        self.gather()

    def command(self, verb: str, ident: str = "", **more: Any) -> Reply:
        who = more.pop("who", "Ann")
        where = more.pop("where", "aboard")
        through = more.pop("through", "command line")
        self.number += 1
        args = {"id": ident, **more} if ident else more
        reply = self.board.command(
            Command(
                self.now_s,
                number=self.number,
                verb=verb,
                args=args,
                who=who,
                where=where,
                through=through,
            )
        )
        self.gather()
        return reply

    def set_watch(self, watch: str, crew: str = "aboard") -> None:
        self.board.set_watch(watch, crew, self.now_s)
        self.gather()

    def restarted(self, gap_s: float | None = 5.0, watch: str = "anchored") -> Bench:
        """A new run on what this one would have kept, as the store keeps it."""
        kept = {e.alert.id: e.alert for e in self.effects if isinstance(e, Record | Keep)}
        alerts = tuple(r for r in kept.values() if r.state is not State.NORMAL)
        state = {e.key: e.value for e in self.effects if isinstance(e, Remember) and e.value}
        later = Bench(
            rules={s: o for s, o in self.board.desk.rules.items() if s != "self"},
            outlets=self.board.desk.routes.outlets,
            start_s=self.now_s + (gap_s or 5.0),
            watch=watch,
            crew=self.board.desk.crew,
        )
        number = max((r.number for r in kept.values()), default=0) + 1
        later.board.restore(
            Remembered(alerts=alerts, state=state, last_alive_s=self.now_s, next_number=number),
            later.now_s,
            gap_s,
        )
        later.gather()
        return later

    def _timers_before(self, until_s: float) -> None:
        while (due := self.board.next_due()) is not None and due < until_s:
            self.now_s = due
            self.board.run_due(due)
            self.gather()

    # -- what came out -------------------------------------------------------------------------

    def gather(self) -> None:
        new = self.board.drain()
        self.effects += new
        for effect in new:
            if isinstance(effect, Wanted):
                self.sound = effect
            elif isinstance(effect, Show):
                self.shown = effect

    def lines(self, alert: str | None = None) -> list[Transition]:
        found = [e.transition for e in self.effects if isinstance(e, Record)]
        return [t for t in found if alert is None or t.alert == alert]

    def path(self, alert: str) -> list[tuple[str, str]]:
        """(to, reason) of every line of the alert."""
        return [(t.to, t.reason) for t in self.lines(alert)]

    def when(self, alert: str, to: str) -> float:
        """Engine time, after the start of this bench's epoch, of the first such line."""
        for effect in self.effects:
            if isinstance(effect, Record) and (
                effect.transition.alert == alert and effect.transition.to == to
            ):
                return round(effect.at_s - START_S, 3)
        raise AssertionError(f"{alert} never went to {to}: {self.path(alert)}")

    def messages(self, outlet: str = "", kind: str = "") -> list[Message]:
        sent = [e.message for e in self.effects if isinstance(e, Send)]
        return [
            m for m in sent if (not outlet or m.outlet == outlet) and (not kind or m.event == kind)
        ]

    def state(self, alert: str) -> State:
        return self.record(alert).state

    def record(self, alert: str) -> AlertRecord:
        found = self.board.find(alert)
        assert isinstance(found, AlertRecord), found
        return found

    @property
    def elapsed_s(self) -> float:
        return round(self.now_s - START_S, 3)


# -- verdicts --------------------------------------------------------------------------------------


def ship(number: int) -> Subject:
    """A ship of our own invention (MID 299 is not allocated)."""
    mmsi = 299_000_000 + number
    return Subject(f"ais:{mmsi}", "ais", f"SHIP {number}", mmsi)


def holds(subject: Subject = OWN_SHIP, **more: Any) -> Verdict:
    facts = {"name": subject.name, "event": "entered", **more.pop("facts", {})}
    return Verdict(subject=subject, holds=True, gone=False, facts=facts, **more)


def gone(subject: Subject = OWN_SHIP, **more: Any) -> Verdict:
    return Verdict(subject=subject, holds=False, gone=True, **more)


def inside_deadband(subject: Subject = OWN_SHIP) -> Verdict:
    """Neither holds nor is gone."""
    return Verdict(subject=subject, holds=False, gone=False)


def cannot_tell(subject: Subject = OWN_SHIP) -> Verdict:
    return Verdict(subject=subject, holds=None)
