"""app/keeper.py: kept in order, nothing lost by a store that fails or stalls. With a real
SQLite file; it is stalled by a second connection that holds the write lock."""

from __future__ import annotations

import sqlite3
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest

from shipkeeper.app import keeper as keeper_module
from shipkeeper.app.clock import Clock
from shipkeeper.app.control import Replies
from shipkeeper.app.health import Health
from shipkeeper.app.keeper import Keeper, condensed
from shipkeeper.store import Store, read_journal
from shipkeeper.words.effects import Effect, Message, Note, Remember, Reply, Send

from .outlets import NIGHT_S, message


class Arrives:
    """A store that is not there at first; `come` brings it."""

    def __init__(self, path: Path, *, blind: bool) -> None:
        self.path, self.blind = path, blind
        self.come = False
        self.opened: Store | None = None
        self.after: list[str] = []

    def open(self) -> Store | None:
        self.opened = Store.open(self.path) if self.come else None
        return self.opened

    def found(self, store: Store) -> None:
        self.after.append("found")

    def afresh(self) -> None:
        self.after.append("afresh")


class House:
    """A keeper at work on a real store."""

    def __init__(self, folder: Path, *, store: bool = True, late: Arrives | None = None) -> None:
        self.path = folder / "shipkeeper.db"
        self.offered: list[str] = []
        self.told: list[tuple[bool, str]] = []
        self.replies = Replies()
        self.store = Store.open(self.path) if store else None
        self.keeper = Keeper(
            self.store,
            Clock(starts_s=NIGHT_S),
            Health(),
            self.replies,
            self._offer,
            lambda ok, why: self.told.append((ok, why)),
            late,
        )
        self.stop = threading.Event()
        self.thread = threading.Thread(target=self.keeper.run, args=(self.stop,))
        self.others: list[sqlite3.Connection] = []
        self.thread.start()

    def _offer(self, outlet: str, messages: Sequence[Message]) -> None:
        self.offered += [m.id for m in messages]

    def end(self) -> None:
        self.stop.set()
        self.thread.join(10)
        assert not self.thread.is_alive()
        for other in self.others:
            other.close()

    def blocked(self) -> sqlite3.Connection:
        """Another program holds the write lock, as a stalled card would hold the commit."""
        other = sqlite3.connect(self.path, isolation_level=None)
        self.others.append(other)
        other.execute("BEGIN IMMEDIATE")
        return other

    def until(self, condition: Callable[[], object], timeout_s: float = 30.0) -> None:
        edge = time.monotonic() + timeout_s
        while not condition():
            assert time.monotonic() < edge
            self.keeper.look()
            time.sleep(0.02)


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    made = House(tmp_path)
    yield made
    made.end()


def note(number: int) -> Note:
    return Note(at_s=NIGHT_S + number, at="", kind="watch", text=f"n{number}")


def journal(path: Path) -> list[str]:
    return [line.partition('"text":"')[2][:-2] for _, _, line in read_journal(path)]


def test_messages_and_answers_come_after_the_commit(house: House) -> None:
    """When the answer is there, the row is on the disk already."""
    house.replies.expect(1)
    house.keeper.put(
        NIGHT_S, [note(1), Send(message=message(1)), Reply(number=1, code=0, text="done")]
    )
    answer = house.replies.wait(1, 5.0)
    assert answer is not None and (answer.code, answer.text) == (0, "done")
    assert journal(house.path) == ["n1"]
    house.until(lambda: house.offered == ["m1"])
    assert house.told == []


def test_what_was_delivered_is_owed_no_longer(house: House) -> None:
    """Paid messages leave the outbox of the file."""
    store = house.store
    assert store is not None
    house.keeper.put(NIGHT_S, [Send(message=message(1)), Send(message=message(2))])
    house.until(lambda: len(house.offered) == 2)
    house.keeper.paid(["m1"])
    house.until(lambda: store.waiting("phone") == 1)
    assert [m.id for m in store.pending("phone")] == ["m2"]


def test_a_stalled_store_does_not_hold_up_messages_or_answers(house: House) -> None:
    """Nothing written for two seconds: everything that waits goes out, also what was put
    behind the stalled commit; the person is told it is not kept yet; later it is."""
    other = house.blocked()
    house.replies.expect(7)
    began = time.monotonic()
    house.keeper.put(NIGHT_S, [note(1), Send(message=message(1))])
    time.sleep(0.2)
    house.keeper.put(
        NIGHT_S + 1, [note(2), Send(message=message(2)), Reply(number=7, code=0, text="silenced")]
    )
    house.until(lambda: len(house.offered) == 2)
    assert 2.0 <= time.monotonic() - began < 3.5
    answer = house.replies.wait(7, 1.0)
    assert answer is not None and answer.code == 1 and "could not keep it" in answer.text
    assert [ok for ok, _ in house.told] == [False]
    other.rollback()
    house.until(lambda: house.told[-1][0] and journal(house.path) == ["n1", "n2"])


def test_a_store_that_fails_for_a_while_leaves_no_hole(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Commits fail outright ('database is locked' after SQLite's own patience): messages go
    from memory; when it works again, all rows are there, in order, and nothing that was
    delivered meanwhile is owed."""
    monkeypatch.setattr(keeper_module, "RETRY_S", 0.2)
    store = house.store
    assert store is not None
    store._db.execute("PRAGMA busy_timeout=50")
    other = house.blocked()
    for number in (1, 2, 3):
        house.keeper.put(NIGHT_S, [note(number), Send(message=message(number))])
        time.sleep(0.1)
    house.until(lambda: len(house.offered) == 3)
    assert house.told[0][0] is False
    house.keeper.paid(["m1", "m2"])
    time.sleep(0.3)
    other.rollback()
    house.until(lambda: house.told[-1][0])
    house.until(lambda: store.waiting("phone") == 1)
    assert journal(house.path) == ["n1", "n2", "n3"]
    assert [m.id for m in store.pending("phone")] == ["m3"]


def test_without_a_store_everything_still_goes_out(tmp_path: Path) -> None:
    """No store could be opened: messages and answers go, marked as not kept."""
    house = House(tmp_path, store=False)
    house.replies.expect(1)
    house.keeper.put(NIGHT_S, [Send(message=message(1)), Reply(number=1, code=0, text="x")])
    answer = house.replies.wait(1, 5.0)
    assert answer is not None and answer.code == 1
    house.until(lambda: house.offered == ["m1"])
    house.end()


@pytest.mark.parametrize(
    ("blind", "set_", "after", "left"),
    [
        (False, False, "found", b"rules"),  # what it held was read: this run goes on from it
        (True, False, "afresh", b"before"),  # it was never read: its own memory stands
        (True, True, "found", b"rules"),  # but a watch that was set since is the watch
    ],
)
def test_a_store_that_comes_late_takes_what_waited(
    blind: bool, set_: bool, after: str, left: bytes, tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    """Messages went out meanwhile and are not owed; the journal has no hole."""
    monkeypatch.setattr(keeper_module, "RETRY_S", 0.1)
    path = tmp_path / "shipkeeper.db"
    store = Store.open(path)
    store.commit([Remember(key="rule:drag", value=b"before")], NIGHT_S)
    store.close()
    late = Arrives(path, blind=blind)
    house = House(tmp_path, store=False, late=late)
    watch: list[Effect] = [Remember(key="watch", value=b"anchored")] if set_ else []
    memory = Remember(key="rule:drag", value=b"rules")
    house.keeper.put(
        NIGHT_S, [note(1), Send(message=message(1)), Send(message=message(2)), memory, *watch]
    )
    house.until(lambda: house.offered == ["m1", "m2"])
    house.keeper.paid(["m1"])
    assert not house.keeper.ok and late.after == []
    late.come = True
    house.until(lambda: late.after == [after])
    assert house.keeper.ok and house.told[-1] == (True, "writes again")
    house.end()
    assert late.opened is not None
    late.opened.close()
    store = Store.open(path)
    assert store.load().state["rule:drag"] == left
    assert [m.id for m in store.pending("phone")] == ["m2"]
    assert journal(path) == ["n1"]
    store.close()


def test_at_the_end_what_was_put_is_committed(tmp_path: Path) -> None:
    """Stop right after a hundred batches: all of them are in the file."""
    house = House(tmp_path)
    for number in range(100):
        house.keeper.put(NIGHT_S, [note(number)])
    house.end()
    assert journal(house.path) == [f"n{n}" for n in range(100)]


def test_what_is_held_for_a_dead_store_is_bounded() -> None:
    """Of each named state the newest; answers not at all; of the rest the last 20,000."""
    many: list[Effect] = []
    for number in range(30_000):
        many.append(Remember(key="watch", value=str(number).encode()))
        many.append(Reply(number=number, code=0, text=""))
    assert condensed(many) == [Remember(key="watch", value=b"29999")]
    notes: list[Effect] = [note(n) for n in range(30_000)]
    assert condensed(notes) == notes[10_000:]
