"""The inbox: the one place where an event gets its stamp, so stamp order is queue order.

Threads of inputs, control and supervisor put; the main thread alone takes. The stamp is read
under the lock, also that of a tick, so nothing can overtake a line that is already queued.

Bounded: when the engine cannot keep up, lines are dropped, the oldest of the input that has
most of them waiting (a flood on one wire does not push out another), counted, and told to
the engine as news. Commands, news and ticks are never dropped.

At full load a line comes each hundredth of a second, and to wake the main thread costs ten times
what the line itself does. So after a line it dozes for `DOZE_S`: what comes meanwhile waits for
it, stamped, unless it is pressing (feed/pressing.py) or no line. The grid second wakes it too.
"""

from __future__ import annotations

import itertools
import threading
from collections import deque
from collections.abc import Callable, Mapping
from typing import Any, Literal

from ..feed.framing import Framer
from ..feed.pressing import is_pressing
from ..words.events import (
    ClockNews,
    Command,
    ContactNews,
    Event,
    Gap,
    InputNews,
    Line,
    OutletNews,
    StoreNews,
    Tick,
    WorkerNews,
)
from .braid import Braid
from .clock import Clock, Quality

MAX_LINES = 20_000  # about 5 MB waiting, some minutes of the fullest feed; our choice
DROP_NEWS_EVERY_S = 60.0  # engine seconds between two pieces of news of dropping
GAP_S = 60.0  # engine seconds without a look at the queue: nobody watched; ours
GAP_REAL_S = 5.0  # and of real time, or a fast clock would see gaps in every hiccup
BRAID_LOOK_S = 0.05
DOZE_S = 0.1  # so long at most does a line wait that decides nothing before the next second; ours
NAME = "inbox"

Entry = list[Event | None]  # one event, or None where a dropped line stood


class Inbox:
    """Queue of stamped events; see the module's first lines."""

    def __init__(self, clock: Clock, *, max_lines: int = MAX_LINES) -> None:
        self.clock = clock
        self.dropped = 0
        self._max_lines = max_lines
        self._queue: deque[Entry] = deque()
        self._lines: dict[str, deque[Entry]] = {}
        self._count = 0
        self._ready = threading.Condition(threading.Lock())
        self._closed = False
        self._busy = False  # a line was handed out since the main thread slept
        self._dozes = False
        self._numbers = itertools.count(1)
        self._told_dropped = 0
        self._told_s = float("-inf")
        self._drops_stand = False
        self._awake_s: float | None = None  # when the main thread last looked here
        self._braid = Braid() if clock.follows_feed else None

    # -- putting, from any thread ----------------------------------------------------------

    def lines(self, name: str, texts: list[str]) -> None:
        """Queue framed lines of one input, all with the stamp of now."""
        if not texts:
            return
        with self._ready:
            if self._braid is not None:
                # A played feed may come faster than can be judged: it waits, and nothing is
                # lost. It waits with its lines handed in, or it would be taken for quiet.
                self._braid.add(name, texts)
                self._weave(self._braid)
                most = self._max_lines // 2
                while self._count + len(self._braid) >= most and not self._closed:
                    self._ready.notify_all()
                    self._ready.wait(0.05)
            else:
                now_s = self.clock.now_s()
                for text in texts:
                    self._line(Line(now_s, name, text))
                if self._dozes and not any(map(is_pressing, texts)):
                    return
            self._ready.notify_all()

    def put(self, make: Callable[[float], Event]) -> None:
        """Queue an event that is no line; `make` is handed its stamp."""
        with self._ready:
            self._queue.append([make(self.clock.now_s())])
            self._ready.notify_all()

    def command(
        self,
        verb: str,
        args: Mapping[str, Any],
        *,
        who: str = "",
        where: Literal["aboard", "ashore"] = "aboard",
        through: str = "command line",
        key: str = "",
        counter: int | None = None,
        sent_s: float | None = None,
        asked: Callable[[int], None] = lambda number: None,
    ) -> int:
        """Queue a person's word; returns the number that its reply will carry. `asked` is
        called with it before the engine can see the command. key, counter, sent_s: of a signed
        one (words/signed.py)."""
        number = next(self._numbers)
        asked(number)
        self.put(
            lambda at_s: Command(
                at_s,
                number=number,
                verb=verb,
                args=dict(args),
                who=who,
                where=where,
                through=through,
                key=key,
                counter=counter,
                sent_s=sent_s,
            )
        )
        return number

    def input_news(self, name: str, up: bool, why: str = "") -> None:
        if self._braid is not None and not up:
            with self._ready:
                self._braid.down(name)
        self.put(lambda at_s: InputNews(at_s, name, up, why))

    def contact(self, name: str, closed: bool | None) -> None:
        """ContactSink of words.wires."""
        self.put(lambda at_s: ContactNews(at_s, name, closed))

    def outlet_news(self, name: str, up: bool, why: str = "") -> None:
        self.put(lambda at_s: OutletNews(at_s, name, up, why))

    def store_news(self, ok: bool, why: str = "", *, lost: bool = False) -> None:
        self.put(lambda at_s: StoreNews(at_s, ok, why, lost))

    def worker_news(self, name: str, ok: bool, why: str = "") -> None:
        self.put(lambda at_s: WorkerNews(at_s, name, ok, why))

    def clock_news(self, utc_s: float, quality: Quality) -> None:
        self.put(lambda at_s: ClockNews(at_s, utc_s, quality))

    def close(self) -> None:
        """No more events: what is queued is still handed out, then None."""
        with self._ready:
            self._closed = True
            self._ready.notify_all()

    # -- taking, by the main thread --------------------------------------------------------

    def next(self, deadline_s: float | None) -> Event | None:
        """The next event; a Tick when nothing came by engine time `deadline_s`; None at the
        end. Waits for no longer than that."""
        with self._ready:
            while True:
                if self._braid is not None:
                    self._weave(self._braid)
                gap = self._gap()
                if gap is not None:
                    return gap
                news = self._drop_news()
                if news is not None:
                    return news
                while self._queue:
                    event = self._queue.popleft()[0]
                    if event is None:
                        continue
                    if type(event) is Line:
                        self._lines[event.input].popleft()
                        self._count -= 1
                        self._busy = True
                    return event
                if self._closed:
                    return None
                wait_s = None if deadline_s is None else self.clock.wait_s(deadline_s)
                if wait_s is not None and wait_s <= 0.0:
                    return Tick(self.clock.now_s())
                if self._braid is not None:
                    wait_s = min(wait_s or BRAID_LOOK_S, BRAID_LOOK_S)
                self._dozes, self._busy = self._busy, False
                if self._dozes:
                    wait_s = DOZE_S if wait_s is None else min(wait_s, DOZE_S)
                self._ready.wait(wait_s)
                self._dozes = False

    def waiting(self) -> int:
        """Events in the queue."""
        with self._ready:
            return len(self._queue)

    # -- inside, under the lock ------------------------------------------------------------

    def _gap(self) -> Gap | None:
        """The main thread was not here for long: the machine slept, or the program was held.
        What was queued before that is handed out first."""
        now_s, awake_s = self.clock.now_s(), self._awake_s
        limit_s = max(GAP_S, GAP_REAL_S * self.clock.rate)
        if awake_s is None or self._braid is not None or now_s - awake_s <= limit_s:
            self._awake_s = now_s
            return None
        head_s = next((e[0].at_s for e in self._queue if e[0] is not None), now_s)
        if head_s <= awake_s:
            return None
        self._awake_s = now_s
        return Gap(head_s, awake_s)

    def _line(self, line: Line) -> None:
        entry: Entry = [line]
        self._lines.setdefault(line.input, deque()).append(entry)
        self._queue.append(entry)
        self._count += 1
        if self._count > self._max_lines:
            self._drop_one()

    def _weave(self, braid: Braid) -> None:
        for stamp_s, name, text in braid.ready(all_of_them=self._closed):
            self.clock.hear(stamp_s)
            self._line(Line(self.clock.now_s(), name, text))

    def _drop_one(self) -> None:
        longest = max(self._lines.values(), key=len)
        longest.popleft()[0] = None
        self._count -= 1
        self.dropped += 1

    def _drop_news(self) -> WorkerNews | None:
        """News of dropping, at most once a minute, and of its end. It goes to the head of
        the queue, so it takes the stamp of what it overtakes."""
        if self.dropped == self._told_dropped and not self._drops_stand:
            return None
        now_s = self.clock.now_s()
        if now_s - self._told_s < DROP_NEWS_EVERY_S:
            return None
        at_s = next((e[0].at_s for e in self._queue if e[0] is not None), now_s)
        fresh = self.dropped - self._told_dropped
        self._told_dropped, self._told_s, self._drops_stand = self.dropped, now_s, fresh > 0
        if fresh:
            why = f"{fresh} lines dropped: more came in than could be judged"
            return WorkerNews(at_s, NAME, False, why)
        return WorkerNews(at_s, NAME, True, "keeping up again")


class LineSink:
    """Where one input puts what it hears (InputSink of words.wires): frames its bytes."""

    def __init__(self, inbox: Inbox, name: str) -> None:
        self._inbox, self._name = inbox, name
        self._framer = Framer()

    def data(self, chunk: bytes, *, whole: bool = False) -> None:
        self._inbox.lines(self._name, self._framer.feed(chunk, whole))

    def news(self, up: bool, why: str = "") -> None:
        self._framer = Framer()  # half a sentence of before is not to be joined to a new one
        self._inbox.input_news(self._name, up, why)
