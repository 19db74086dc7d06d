"""The driller: sends a hazard in at the door of an input and times its way to a person.

`ask` answers the control socket (start it, look at it, end it). A drill is a thread of its own;
the parts of the daemon tell it what they did (`sounded`, `offered`, `delivered`), and it asks the
engine what became of the alert. It only looks: an alarm that is real goes its way as ever, and
breaks the drill off.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from typing import Any, Protocol

import msgspec

from ..words.drill import BEGINS, IS_OVER, MEASURED, SEND_EVERY_S, WIRE
from ..words.effects import Message, Wanted
from ..words.sentence import sentence
from .clock import steady_s
from .control import Answer
from .drill_report import Course, Outcome, judged
from .inbox import Inbox, LineSink

LOOK_EVERY_S = 0.2
SETTLE_S = 15.0  # after the answer: messages on their way may still arrive
WAIT_S, MOST_WAIT_S = 180.0, 1800.0
ALERT = "drill"
WHO = "shipkeeper"


class Obey(Protocol):
    """The daemon's own door to the engine."""

    def __call__(self, verb: str, args: dict[str, Any], who: str) -> Answer | None: ...


class Driller:
    """One drill at a time; all methods from any thread."""

    def __init__(self, inbox: Inbox, obey: Obey) -> None:
        self.sounders: list[str] = []  # outlets that are heard or seen aboard
        self._sink = LineSink(inbox, WIRE)
        self._obey = obey
        self._lock = threading.Lock()
        self._course: Course | None = None
        self._outcome: Outcome | None = None
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None

    # -- what a person asks ------------------------------------------------------------------

    def ask(self, args: dict[str, Any]) -> Answer:
        """how = start (outlet, wait_s) | look | stop."""
        how = args.get("how", "look")
        if how == "start":
            return self._start(args)
        if how == "stop":
            self._stop.set()
        with self._lock:
            course, outcome = self._course, self._outcome
        if course is None:
            return Answer(2, "there has been no drill since the watch began")
        data = {"over": outcome is not None, "course": msgspec.to_builtins(course)}
        if outcome is None:
            return Answer(0, "the drill goes on", data)
        return Answer(
            0 if outcome.good else 1, outcome.verdict, data | {"report": outcome.as_dict()}
        )

    def _start(self, args: dict[str, Any]) -> Answer:
        outlet, wait_s = args.get("outlet"), args.get("wait_s", WAIT_S)
        if not isinstance(wait_s, int | float) or not 5 <= wait_s <= MOST_WAIT_S:
            return Answer(2, f"wait for an answer for 5 s to {MOST_WAIT_S / 60:g} min")
        with self._lock:
            if self._thread is not None and self._thread.is_alive():
                return Answer(2, "a drill is going on: shipkeeper ack drill ends it")
            said = self._obey(BEGINS, {"outlet": outlet}, str(args.get("who", "")))
            if said is None or said.code:
                return said or Answer(2, "the engine does not answer")
            sounders = [name for name in self.sounders if outlet in (None, name)]
            self._course = Course(outlet=outlet, wait_s=float(wait_s), sounders=sounders)
            self._outcome = None
            self._stop.clear()
            self._thread = threading.Thread(
                target=self._run, args=(self._course,), name="drill", daemon=True
            )
            self._thread.start()
        return Answer(0, said.text, {"over": False, "wait_s": wait_s})

    # -- what the parts of the daemon tell ----------------------------------------------------

    def sounded(self, outlet: str, wanted: Wanted) -> None:
        """A level outlet has been shown this."""
        course = self._course
        if course is None or self._outcome is not None:
            return
        with self._lock:
            course.shown(outlet, wanted, steady_s())

    def offered(self, outlet: str, messages: Sequence[Message]) -> None:
        """These messages were handed to an edge outlet."""
        course = self._course
        if course is None or self._outcome is not None:
            return
        with self._lock:
            for message in messages:
                if message.drill:
                    course.offered(outlet, message, steady_s())

    def delivered(self, outlet: str, ids: Sequence[str]) -> None:
        """These of them have arrived where that outlet delivers."""
        course = self._course
        if course is None or self._outcome is not None:
            return
        with self._lock:
            course.delivered(outlet, ids, steady_s())

    # -- the drill itself --------------------------------------------------------------------

    def _run(self, course: Course) -> None:
        course.begun_s = sent_s = steady_s()
        self._send(1)
        answered_s: float | None = None
        while not self._stop.wait(LOOK_EVERY_S):
            now_s = steady_s()
            if now_s - sent_s >= SEND_EVERY_S and answered_s is None:
                sent_s = now_s
                self._send(1)
            self._look(course, now_s)
            if course.broken_off:
                break
            if answered_s is None and course.answered_s is not None:
                answered_s = now_s
                self._send(0)
            waited = now_s - course.begun_s >= course.wait_s
            if answered_s is None:
                if waited:
                    break
            elif course.has_arrived() or now_s - answered_s >= SETTLE_S:
                break
        if self._stop.is_set() and course.answered_s is None:
            course.broken_off = course.broken_off or "ended by hand"
        self._send(0)
        with self._lock:
            outcome = judged(course)
        said = outcome.as_dict()
        self._obey(IS_OVER, {"good": outcome.good, "report": said}, WHO)
        with self._lock:
            self._outcome = outcome

    def _send(self, on: int) -> None:
        said = sentence(f"IIXDR,G,{on},,{MEASURED}")
        self._sink.data(f"{said}\r\n".encode())

    def _look(self, course: Course, now_s: float) -> None:
        """What the engine says of the alert, and of anything real."""
        said = self._obey("alerts", {}, WHO)
        if said is None:
            return
        with self._lock:
            for row in said.data.get("alerts", ()):
                if row["id"] == ALERT:
                    course.seen(row, now_s)
                elif row["state"] == "active-unacknowledged" and row["priority"] != "caution":
                    course.broken_off = f"something real was raised: {row['title']}"
