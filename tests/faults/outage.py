"""Campaign: the network is gone for 24 hours, with messages by the thousand; then it is back.

    nice python -m tests.faults.outage [--messages 1000] [--slow 0.01]

The real outbox and push outlet, a real store and a real receiver over HTTP behind a go-between
that refuses; the steady clock is ours and leaps from message to message, so that a day passes in
seconds. In the second half the outbox is also begun anew from the store before the link is back.
Then: at most three pushes; each says when it happened and how late it is; each raise is named in
them or counted among the less urgent; all of it is in the journal, nothing is owed any more, and
nothing came twice.
"""

from __future__ import annotations

import argparse
import re
import sys
import tempfile
import threading
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from tests.live.boat import drained
from tests.peers import Phone
from tests.peers.between import Between
from tests.peers.messages import message, record, transition

from shipkeeper.app import outbox
from shipkeeper.app.clock import Clock, steady_s
from shipkeeper.app.fold import LISTED
from shipkeeper.outlets import apprise_quiet
from shipkeeper.outlets.push import Push, PushOutlet
from shipkeeper.store import Store, read_journal
from shipkeeper.words.alert import Priority
from shipkeeper.words.effects import Message, Record, Send

HOURS = 24.0
NIGHT_S = datetime(2026, 6, 11, 20, 0, tzinfo=UTC).timestamp()
QUIET_S = 2.0
AFTER_S = 2.0  # how long is waited for a push too many


class Leaps:
    """A steady clock that can be moved on."""

    def __init__(self) -> None:
        self.ahead_s = 0.0

    def now_s(self) -> float:
        return steady_s() + self.ahead_s


@dataclass
class Told:
    """What an outage came to."""

    pushes: list[dict[str, Any]] = field(default_factory=list)
    tries: int = 0
    wrong: list[str] = field(default_factory=list)


def letters(count: int) -> list[Message]:
    """Messages over the day: each second one a raise of another alert, now and then an alarm."""
    made = []
    for number in range(count):
        at_s = NIGHT_S + number * HOURS * 3600.0 / count
        at = datetime.fromtimestamp(at_s, UTC).strftime("%Y-%m-%dT%H:%M:%S.000Z")
        alert = number // 2
        raised = number % 2 == 0
        made.append(
            message(
                alert + 1,
                id=f"tank-{alert}/{number}",
                outlet="phone",
                about=f"tank-{alert}",
                at_s=at_s,
                at=at,
                event="raised" if raised else "cleared",
                priority=Priority.ALARM if alert % 10 == 0 else Priority.WARNING,
                title=f"TANK {alert} LOW",
                line=f"tank {alert} is low",
                text=f"tank {alert} is low",
            )
        )
    return made


def journalled(one: Message) -> list[Record | Send]:
    """What the engine would have kept of it."""
    alert = record(one.number, id=one.about)
    row = transition(alert, at=one.at, text=one.id)
    return [Record(at_s=one.at_s, transition=row, alert=alert), Send(message=one)]


class Ashore:
    """The phone's service behind a go-between, and the outlet that leads there."""

    def __init__(self, folder: Path) -> None:
        self.phone = Phone()
        self.between = Between(self.phone.port)
        secret = folder / "urls"
        secret.write_text(f"json://127.0.0.1:{self.between.port}/\n")
        self.table = PushOutlet(name="phone", push=Push(urls=str(secret)))

    def close(self) -> None:
        self.between.close()
        self.phone.close()


class Run:
    """One run of the outbox over the store: what is delivered leaves it."""

    def __init__(self, ashore: Ashore, store: Store, clock: Clock) -> None:
        self.worker = outbox.EdgeWorker(
            ashore.table,
            lambda path: Path(path).read_text(),
            clock,
            lambda name, up, why: None,
            store.delivered,
        )
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self.worker.run, args=(self._stop,))
        self._thread.start()

    def end(self) -> None:
        self._stop.set()
        self._thread.join(30)


def outage(count: int, slow_s: float, *, restarted: bool) -> Told:
    """So many messages in a day without a link."""
    told, leaps = Told(), Leaps()
    outbox.steady_s = leaps.now_s  # type: ignore[attr-defined]  # the outbox's own clock
    with tempfile.TemporaryDirectory(prefix="shipkeeper-outage-") as name:
        folder = Path(name)
        ashore, store = Ashore(folder), Store.open(folder / "shipkeeper.db")
        run = Run(ashore, store, Clock(starts_s=NIGHT_S))
        try:
            apprise_quiet.load()  # takes a second or two, which would be hours here
            ashore.between.turn("refuse")
            sent = letters(count)
            for one in sent:
                store.commit(journalled(one), one.at_s)
                run.worker.offer([one])
                time.sleep(slow_s)
                leaps.ahead_s += HOURS * 3600.0 / count
            if restarted:
                run.end()
                run = Run(ashore, store, Clock(starts_s=NIGHT_S + HOURS * 3600.0))
                run.worker.offer(store.pending("phone", 100_000), old=True)
            time.sleep(QUIET_S)  # a try that is under way must not see the next leap
            if drained(ashore.phone.got):
                told.wrong.append("something was pushed without a link")
            ashore.between.turn("pass")
            edge_s = time.monotonic() + 60.0
            leaps.ahead_s += 75.0  # the longest pause need not be waited out
            while store.waiting("phone") and time.monotonic() < edge_s:
                time.sleep(0.02)
            quiet_s = time.monotonic() + AFTER_S
            while time.monotonic() < quiet_s:
                time.sleep(0.1)
            told.pushes = list(drained(ashore.phone.got))
            _reckon(told, sent, store)
        finally:
            outbox.steady_s = steady_s  # type: ignore[attr-defined]  # put back
            run.end()
            store.close()
            ashore.close()
    return told


def _reckon(told: Told, sent: Sequence[Message], store: Store) -> None:
    wrong = told.wrong
    whole = "\n".join(f"{push['title']}\n{push['message']}" for push in told.pushes)
    if not 0 < len(told.pushes) <= 3:
        wrong.append(f"{len(told.pushes)} pushes")
    for push in told.pushes:
        text = push["message"]
        late = re.search(r"LATE: happened at \d\d:\d\d UTC, |LATE, the first ", text)
        if late is None or not re.search(r"\d\d:\d\d", text):
            wrong.append(f"it does not say when and how late: {text[:80]}")
    raised = {one.about.removeprefix("tank-") for one in sent if one.event == "raised"}
    named = set(re.findall(r"TANK (\d+) LOW", whole)) & raised
    counted = sum(map(int, re.findall(r"^(\d+) less urgent ones", whole, re.MULTILINE)))
    if len(named) + counted < len(raised):
        wrong.append(f"{len(raised)} raised, {len(named)} named and {counted} counted")
    alarms = {o.about.removeprefix("tank-") for o in sent if o.priority is Priority.ALARM}
    if len(named & alarms) < min(len(alarms), LISTED):
        wrong.append(f"of {len(alarms)} alarms {len(named & alarms)} are named")
    rows = list(read_journal(store.path, kinds=("transition",)))
    if len(rows) != len(sent):
        wrong.append(f"{len(rows)} rows in the journal for {len(sent)} messages")
    if store.waiting("phone"):
        wrong.append(f"{store.waiting('phone')} are owed still")
    refs = re.findall(r"^ref .*$", whole, re.MULTILINE)
    if len(refs) != len(set(refs)):
        wrong.append("something came twice")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--messages", type=int, default=1000)
    parser.add_argument("--slow", type=float, default=0.01)
    chosen = parser.parse_args()
    bad = 0
    for restarted in (False, True):
        for count in (1, 2, 4, 30, chosen.messages):
            began_s = time.monotonic()
            told = outage(count, chosen.slow, restarted=restarted)
            bad += bool(told.wrong)
            what = "and a restart " if restarted else ""
            print(f"{'WRONG' if told.wrong else 'GOOD '} 24 h without a link {what}with {count} "
                  f"messages: {len(told.pushes)} pushes ({time.monotonic() - began_s:.0f} s)",
                  flush=True)  # fmt: skip
            for line in told.wrong:
                print(f"      {line}")
            if count == chosen.messages:
                for push in told.pushes:
                    print("    |", push["title"], "|", push["message"][:150].replace("\n", " / "))
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
