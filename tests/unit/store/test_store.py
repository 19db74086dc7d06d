"""The store on real files: nothing committed is lost, nothing damaged is deleted."""

from __future__ import annotations

import contextlib
import json
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest

from shipkeeper.store import NewerStore, Store, StoreFailed, files, read_journal, rows
from shipkeeper.words.alert import Priority, State
from shipkeeper.words.effects import Effect, Keep, Note, Record, Remember, Send, Show, Wanted

from ...faults.disk import counted, sick
from ...peers.messages import message, record, show, transition
from ...peers.small_disk import NoRight, SmallDisk
from .writer import batch

ROOT = Path(__file__).parents[3]


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "state" / "shipkeeper.db"


def raised(number: int, at_s: float = 1000.0, **changes: object) -> Record:
    alert = record(number, **changes)
    return Record(at_s=at_s, transition=transition(alert), alert=alert)


def test_a_batch_comes_back_whole(path: Path) -> None:
    """Alert, state, message and journal row; what is only shown is not kept."""
    store = Store.open(path)
    alert = raised(3, lat=57.1, shelved_until_s=None)
    effects: list[Effect] = [
        Wanted(pattern="alarm"),
        alert,
        Send(message=message()),
        Remember(key="watch", value=b'{"watch":"anchored"}'),
        Note(at_s=1000.0, at="", kind="command", text="anchor here", data={"code": 0}),
        show(),
    ]
    store.commit(effects, 1000.0)
    store.close()
    again = Store.open(path)
    remembered = again.load()
    assert remembered.alerts == (alert.alert,)
    assert remembered.state == {"watch": b'{"watch":"anchored"}'}
    assert remembered.next_number == 4
    assert remembered.last_alive_s == 1000.0
    assert remembered.problems == ()
    assert again.pending("skipper") == [message()]
    assert again.pending("mate") == []
    kinds = [(at_s, kind) for at_s, kind, _ in read_journal(path)]
    assert kinds == [(1000.0, "transition"), (1000.0, "command")]
    assert isinstance(show(), Show)
    again.close()


def test_the_journal_has_the_lines_of_the_interface(path: Path) -> None:
    """The transition's JSON as `log --json` prints it, its fields in their order."""
    store = Store.open(path)
    store.commit([raised(1)], 1000.0)
    ((_, _, line),) = read_journal(path)
    assert line == msgspec.json.encode(raised(1).transition).decode()
    assert list(json.loads(line))[:8] == [
        "at", "alert", "kind", "rule", "subject", "mmsi", "occurrence", "priority"]  # fmt: skip
    store.close()


def test_back_to_normal_needs_no_row_but_keeps_its_number(path: Path) -> None:
    """A number is never given out twice, also after a restart."""
    store = Store.open(path)
    store.commit([raised(8)], 1000.0)
    store.commit([raised(8, state=State.NORMAL)], 1001.0)
    store.close()
    store = Store.open(path)
    assert store.load().alerts == ()
    assert store.load().next_number == 9
    store.commit([Keep(alert=record(2))], 1002.0)
    assert store.load().next_number == 9
    assert [a.number for a in store.load().alerts] == [2]
    store.close()


def test_an_event_that_was_seen_is_kept_until_it_is_over(path: Path) -> None:
    """Or a ship that has left would be told of again after a restart."""
    store = Store.open(path)
    seen = raised(9).alert
    seen.state, seen.spent = State.NORMAL, True
    store.commit([Keep(alert=seen)], 1001.0)
    assert [a.spent for a in store.load().alerts] == [True]
    seen.spent = False
    store.commit([Keep(alert=seen)], 1002.0)
    assert store.load().alerts == ()
    store.close()


def test_state_is_forgotten_on_demand(path: Path) -> None:
    """Remember with None."""
    store = Store.open(path)
    store.commit([Remember(key="a", value=b"1"), Remember(key="b", value=b"2")], 1.0)
    store.commit([Remember(key="a", value=None)], 2.0)
    assert store.load().state == {"b": b"2"}
    store.close()


def test_the_outbox_is_in_order_and_owes_each_message_once(path: Path) -> None:
    """A message handed in twice is owed once; delivered ones are owed no more."""
    store = Store.open(path)
    for number in (1, 2, 2, 3):
        store.commit([Send(message=message(number, id=f"m{number}"))], 1.0)
    store.failed("m1", "the service answered 500")
    assert [m.id for m in store.pending("skipper")] == ["m1", "m2", "m3"]
    assert [m.id for m in store.pending("skipper", 2)] == ["m1", "m2"]
    store.delivered(["m1", "m3", "no such"])
    assert [m.id for m in store.pending("skipper")] == ["m2"]
    assert store.waiting("skipper") == 1
    store.close()


def test_what_was_delivered_goes_with_the_batch_or_not_at_all(path: Path) -> None:
    """A commit that fails keeps neither; tried again, no line of the journal is doubled."""
    store = Store.open(path)
    store.commit(batch(1), 1000.0)
    store._db.execute(
        "CREATE TRIGGER full BEFORE DELETE ON outbox BEGIN SELECT RAISE(FAIL, 'disk'); END"
    )
    with pytest.raises(StoreFailed):
        store.commit(batch(2), 1001.0, ["m1"])
    store._db.execute("DROP TRIGGER full")
    store.commit(batch(2), 1001.0, ["m1"])
    assert [m.id for m in store.pending("skipper")] == ["m2"]
    assert [json.loads(line)["text"] for _, _, line in read_journal(path)] == ["1", "2"]
    store.commit([], 1002.0, ["m2"])
    assert store.pending("skipper") == []
    store.close()


def test_a_row_that_cannot_be_written_keeps_back_no_other(path: Path) -> None:
    """A text that is no text (half of a surrogate pair), a value of no kind: told, and the rest
    of the batch is kept; tried again for ever it would keep back all that comes after it."""
    store = Store.open(path)
    bad = Note(at_s=1.0, at="", kind="note", text="\udcff")
    worse = Remember(key="k", value=object())  # type: ignore[arg-type]  # meant to be wrong
    store.commit([raised(1), bad, worse, raised(2)], 1000.0)
    assert len(store.load().alerts) == 2
    assert [problem.partition(":")[0] for problem in store.problems] == [
        "a row could not be written and is left out"
    ] * 2
    store.close()


# -- damage ------------------------------------------------------------------------------------


def filled(path: Path, commits: int = 40) -> None:
    store = Store.open(path)
    for number in range(commits):
        store.commit(batch(number), 1000.0 + number)
    store.close()


def test_a_file_of_garbage_is_set_aside(path: Path) -> None:
    """Named in the problems, never deleted, and the watch goes on."""
    path.parent.mkdir()
    path.write_bytes(b"no database at all " * 500)
    store = Store.open(path)
    remembered = store.load()
    (aside,) = path.parent.glob("*.damaged-*")
    assert aside.read_bytes().startswith(b"no database at all")
    assert aside.name in remembered.problems[0]
    store.commit([raised(1)], 1.0)
    assert len(store.load().alerts) == 1
    store.close()


@pytest.mark.parametrize("seed", range(12))
def test_a_damaged_file_gives_what_can_be_read(path: Path, seed: int) -> None:
    """Some pages overwritten with noise: it opens, or is set aside; the file is kept either
    way, and a commit works after."""
    filled(path)
    dice = random.Random(seed)
    raw = bytearray(path.read_bytes())
    for _ in range(3):
        at = dice.randrange(0, len(raw) - 512)
        raw[at : at + 512] = dice.randbytes(512)
    path.write_bytes(raw)
    store = Store.open(path)
    remembered = store.load()
    asides = [p for p in path.parent.glob("*.damaged-*") if p.suffix not in ("-wal", "-shm")]
    unreadable = [problem for problem in remembered.problems if "cannot be read" in problem]
    assert bool(asides) == (len(remembered.problems) > len(unreadable))
    for number in range(40):
        try:
            store.commit(batch(100 + number), 2000.0)
        except StoreFailed:
            store.commit(batch(100 + number), 2000.0)  # damage found now was mended before
    assert store.load().state["watch"] == b"139"
    store.close()


def test_the_watch_is_taken_over_from_a_damaged_file(path: Path) -> None:
    """Damage in the outbox does not cost the anchor mark."""
    filled(path, 300)
    spoilt_in_the_outbox(path)
    store = Store.open(path)
    remembered = store.load()
    assert remembered.problems
    assert remembered.state == {"watch": b"299"}
    assert len(remembered.alerts) == 7
    store.close()


def spoilt_in_the_outbox(path: Path) -> None:
    """A page of noise where it is found at the next look."""
    with contextlib.closing(sqlite3.connect(path)) as db, db:
        (page,) = db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'outbox'").fetchone()
        (size,) = db.execute("PRAGMA page_size").fetchone()
    raw = bytearray(path.read_bytes())
    raw[(page - 1) * size : page * size] = b"\xff" * size
    path.write_bytes(raw)


def asides(path: Path) -> list[str]:
    found = [p.name for p in path.parent.iterdir() if p.name != path.name]
    return sorted(n for n in found if not n.endswith(("-wal", "-shm", ".alive", ".watch", ".part")))


@pytest.fixture
def in_memory() -> Iterator[Path]:
    """A folder whose syncs cost nothing: a kill does not ask for them."""
    shared = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=shared if shared.is_dir() else None) as name:
        yield Path(name)


def test_a_kill_while_a_damaged_file_is_replaced_costs_nothing(in_memory: Path) -> None:
    """At every single operation on the disk: the next start has the watch, the alerts and the
    journal, and the damaged file stands there under its name."""
    folder = in_memory
    path = folder / "state" / "shipkeeper.db"
    filled(path, 4)
    spoilt_in_the_outbox(path)
    done = subprocess.run(
        [sys.executable, "-m", "tests.unit.store.dying", str(folder), "4"],
        capture_output=True, cwd=ROOT, check=True, text=True,
        env={**os.environ, "PYTHONPATH": f"{ROOT}:{ROOT}/daemon", **counted(folder, 0)},
    )  # fmt: skip
    count, status = map(int, done.stdout.split())
    assert status == 0
    for number in range(1, count + 1):
        copy = folder / str(number) / path.name
        store = Store.open(copy)
        remembered = store.load()
        assert int(remembered.state["watch"]) in (3, 4), number
        assert len(remembered.alerts) == len(remembered.state) * 4 + (
            remembered.state["watch"] == b"4"
        ), number
        lines = [json.loads(line)["text"] for _, _, line in read_journal(copy)]
        assert lines[:4] == [str(n) for n in range(4)], number
        (aside,) = asides(copy)
        assert aside.startswith(f"{path.name}.damaged-"), number
        store.close()
    assert count > 50


def test_damage_on_a_full_disk_waits_for_room(small_disk: SmallDisk) -> None:
    """The damaged file is set aside and a new one does not fit: told, again and again. With
    room the next call goes on with it, and the watch is there."""
    path = small_disk.path / "shipkeeper.db"
    small_disk.grow("1m")
    filled(path, 60)
    store = Store.open(path)
    spoilt_in_the_outbox(path)
    small_disk.fill()
    with pytest.raises(StoreFailed):
        store._mend("a page is noise")  # as any call does that finds damage
    for number in (60, 61, 62):
        with pytest.raises(StoreFailed, match="full"):
            store.commit(batch(number), 5000.0)
    assert asides(path)[1].startswith(f"{path.name}.unread-")
    small_disk.empty()
    store.commit(batch(63), 5000.0)
    assert store.load().state["watch"] == b"63"
    assert len(store.load().alerts) == 7
    assert "set aside as shipkeeper.db.damaged-" in store.problems[-1]
    assert [name.partition("-")[0] for name in asides(path)] == ["shipkeeper.db.damaged"]
    store.close()


def noise(path: Path) -> None:
    """The file and its log, in place, under the hands of whoever has them open."""
    for found in (path, path.with_name(path.name + "-wal")):
        with found.open("r+b") as file:
            file.write(random.Random(1).randbytes(found.stat().st_size))


@pytest.mark.parametrize("found_by", ["a commit", "a sign of life"])
def test_noise_under_its_hands_is_found_and_what_is_owed_stays(path: Path, found_by: str) -> None:
    """Without a new start, by a commit a minute on, or in half an hour: messages and the numbers
    given are in the new file, and the noise is set aside. Alerts and states the engine says again
    (test_new_store.py)."""
    filled(path, 3)
    store = Store.open(path)
    store.load()
    store.pending("skipper", limit=100)
    store.commit([raised(8), Keep(alert=record(8, state=State.NORMAL))], 2000.0)
    store.commit([Send(message=message(77))], 2001.0, ["m1"])
    owed = [m.id for m in store.pending("skipper", limit=100)]
    noise(path)
    store.commit([raised(9)], 2010.0)  # within the minute nobody looks
    assert asides(path) == []
    if found_by == "a commit":
        store.commit([raised(7)], 2061.0)
    else:
        store.beat(3900.0)
    assert "set aside as shipkeeper.db.damaged-" in store.problems[-1]
    store.close()
    again = Store.open(path)
    remembered = again.load()
    assert remembered.problems[:-1] == ()  # the watch is that of its spare copy
    assert remembered.next_number == 10
    assert [m.id for m in again.pending("skipper", limit=100)] == owed
    assert len(asides(path)) == 1
    again.close()


def test_noise_on_a_full_disk_waits_for_room(small_disk: SmallDisk) -> None:
    """The file is set aside, and a new one does not fit: told; with room what is owed is in it."""
    path = small_disk.path / "shipkeeper.db"
    small_disk.grow("1m")
    filled(path, 60)
    store = Store.open(path)
    owed = [m.id for m in store.pending("skipper", limit=100)]
    noise(path)
    small_disk.fill()
    with pytest.raises(StoreFailed):
        store.commit([raised(9)], 5000.0)
    small_disk.empty()
    store.commit([raised(9)], 5001.0)
    assert [m.id for m in store.pending("skipper", limit=100)] == owed != []
    store.close()


@pytest.mark.parametrize("fate", ["noise", "deleted"])
def test_the_watch_outlives_its_store(fate: str, path: Path) -> None:
    """Nothing of the store is left: the watch comes from its spare copy, and that is told."""
    filled(path, 3)
    for found in path.parent.glob("shipkeeper.db*"):
        if found.name.endswith((".watch", ".alive")):
            continue
        found.write_bytes(b"noise " * 999) if fate == "noise" else found.unlink()
    store = Store.open(path)
    remembered = store.load()
    assert remembered.state == {"watch": b"2"}
    assert "spare copy" in remembered.problems[-1]
    store.close()


def test_a_newer_file_is_left_alone(path: Path) -> None:
    """Refused with a reason; not one byte is changed."""
    filled(path, 3)
    with contextlib.closing(sqlite3.connect(path)) as db, db:
        db.execute(f"PRAGMA user_version={files.VERSION + 1}")
    before = path.read_bytes()
    with pytest.raises(NewerStore, match="newer shipkeeper"):
        Store.open(path)
    assert path.read_bytes() == before
    assert not list(path.parent.glob("*.damaged*"))


def test_an_older_file_is_brought_up_step_by_step(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each step once, in order, with what was in it; a step that fails changes nothing."""
    filled(path, 3)
    steps = {2: "ALTER TABLE meta ADD COLUMN two TEXT", 3: "CREATE TABLE three (x)"}
    monkeypatch.setattr(files, "_text", lambda name: name)
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as db:
        files.bring_up(db, 3, steps)
        files.bring_up(db, 3, steps)
        assert db.execute("PRAGMA user_version").fetchone() == (3,)
        assert db.execute("SELECT count(*) FROM three").fetchone() == (0,)
        assert db.execute("SELECT count(*) FROM journal").fetchone() == (3,)
        with pytest.raises(sqlite3.Error):
            files.bring_up(db, 4, {4: "CREATE TABLE four (x); CREATE TABLE three (x)"})
        assert db.execute("PRAGMA user_version").fetchone() == (3,)
        assert not db.execute("SELECT 1 FROM sqlite_master WHERE name = 'four'").fetchall()


def test_a_file_that_was_taken_away_is_made_anew(path: Path) -> None:
    """From what is open still: commits to a file that nobody will find are worth nothing."""
    store = Store.open(path)
    store.commit(batch(1), 1000.0)
    path.unlink()
    store.beat(2000.0)
    store.close()
    store = Store.open(path)
    assert store.load().state == {"watch": b"1"}
    assert [m.id for m in store.pending("skipper")] == ["m1"]
    store.close()


# -- power cuts and full disks -------------------------------------------------------------------


def killed_writer(path: Path, start: int, after_s: float) -> int:
    """The last number that the writer said it had committed before it was killed."""
    writer = subprocess.Popen(
        [sys.executable, "-m", "tests.unit.store.writer", str(path), str(start)],
        stdout=subprocess.PIPE, cwd=ROOT, env={**os.environ, "PYTHONPATH": f"{ROOT}:{ROOT}/daemon"},
    )  # fmt: skip
    assert writer.stdout is not None
    first = writer.stdout.readline()
    time.sleep(after_s)
    writer.kill()
    said = [*first.split(), *writer.stdout.read().split(b"\n")[:-1]]
    writer.stdout.close()
    writer.wait()
    return int(said[-1])


def consistent(path: Path) -> int:
    """Opens it, compares all tables with each other, returns the last commit."""
    store = Store.open(path)
    remembered = store.load()
    assert remembered.problems == ()
    last = int(remembered.state["watch"])
    lines = [json.loads(line) for _, _, line in read_journal(path)]
    assert [int(line["text"]) for line in lines] == list(range(last + 1))
    assert {a.id: a.revision for a in remembered.alerts} == {
        batch(n)[0].alert.id: n  # type: ignore[union-attr]  # the first is a Record
        for n in range(max(0, last - 6), last + 1)
    }
    assert [m.id for m in store.pending("skipper", 100_000)] == [f"m{n}" for n in range(last + 1)]
    store.close()
    return last


def test_kill_at_any_moment_loses_nothing_committed(path: Path) -> None:
    """A process killed in the middle of it, again and again over the same file."""
    dice = random.Random(6)
    last = -1
    for _ in range(6):
        said = killed_writer(path, last + 1, dice.uniform(0.0, 0.25))
        last = consistent(path)
        assert last >= said


def test_a_torn_log_restores_to_some_whole_commit(path: Path, tmp_path: Path) -> None:
    """Copies with the log cut anywhere, as a dying machine leaves it: each is a state that
    once was, all tables of the same moment."""
    store = Store.open(path)
    store._db.execute("PRAGMA wal_autocheckpoint=0")  # all of it is in the log
    for number in range(25):
        store.commit(batch(number), 1000.0 + number)
    whole = path.with_name(path.name + "-wal").read_bytes()
    base = path.read_bytes()
    store.close()
    dice = random.Random(2)
    seen = set()
    for number in range(40):
        copy = tmp_path / f"copy{number}" / path.name
        copy.parent.mkdir()
        copy.write_bytes(base)
        cut = dice.randrange(len(whole) // 3, len(whole) + 1)
        noise = dice.randbytes(dice.choice((0, 700)))
        copy.with_name(path.name + "-wal").write_bytes(whole[:cut] + noise)
        seen.add(consistent(copy))
        shutil.rmtree(copy.parent)
    assert len(seen) > 5


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[SmallDisk]:
    """300 kB."""
    try:
        disk = SmallDisk(tmp_path / "disk", "300k")
    except NoRight:
        pytest.skip("no right to mount a tmpfs here, so no disk can be filled")
    with disk:
        yield disk


def test_a_commit_that_was_written_and_not_synced_is_not_kept_twice(path: Path) -> None:
    """It failed, and whoever opens the file anew finds it whole: SQLite's log says it is done
    (www.sqlite.org/wal.html, from memory: frames up to a valid commit frame are taken over)."""
    disk = sick(path.parent, path.parent.parent)
    ended = subprocess.run(
        [sys.executable, "-m", "tests.unit.store.unsynced", str(path)],
        env={**os.environ, **disk.environment}, cwd=ROOT, capture_output=True, text=True,
    )  # fmt: skip
    assert ended.returncode == 0 and "disk I/O error" in ended.stdout, ended.stderr
    assert consistent(path) == 2


def test_a_full_disk_is_told_and_heals(small_disk: SmallDisk) -> None:
    """StoreFailed with the reason; what was committed stays; it works again with room."""
    path = small_disk.path / "shipkeeper.db"
    store = Store.open(path)
    committed = -1
    with pytest.raises(StoreFailed, match="full"):
        for number in range(10_000):
            store.commit(batch(number), 1000.0 + number)
            committed = number
    assert committed > 0
    with pytest.raises(StoreFailed):
        store.commit(batch(committed + 1), 5000.0)
    assert int(store.load().state["watch"]) == committed
    small_disk.grow("3m")
    store.commit(batch(committed + 1), 5000.0)
    store.close()
    assert consistent(path) == committed + 1


def test_a_disk_that_turns_read_only_is_told(small_disk: SmallDisk) -> None:
    """As a worn card does it."""
    path = small_disk.path / "shipkeeper.db"
    filled(path, 3)
    small_disk.read_only()
    try:
        with pytest.raises(StoreFailed):
            Store.open(path).commit(batch(3), 5000.0)
        assert len(list(read_journal(path))) == 3
    finally:
        small_disk.writable()


def test_a_store_opened_while_nothing_could_be_written_writes_again(small_disk: SmallDisk) -> None:
    """After a kill SQLite opens the file of a read-only disk for reading, and would keep to that
    when the disk is well."""
    path = small_disk.path / "shipkeeper.db"
    small_disk.grow("1m")
    killed_writer(path, 0, 0.0)
    small_disk.read_only()
    store = Store.open(path)
    with pytest.raises(StoreFailed):
        store.commit(batch(900), 5000.0)
    small_disk.writable()
    with contextlib.suppress(StoreFailed):
        store.commit(batch(900), 5000.0)
    store.commit(batch(901), 5000.0)
    assert store.load().state["watch"] == b"901"
    store.close()


# -- bounds and other readers ----------------------------------------------------------------------


def test_signs_of_life_write_nothing(path: Path) -> None:
    """A day of beats leaves no byte in the log, and the last one is known to the minute."""
    store = Store.open(path)
    store.commit([raised(1)], 1000.0)
    log = path.with_name(path.name + "-wal")
    before = log.stat().st_size
    for second in range(0, 86_400, 20):
        store.beat(1000.0 + second)
    assert log.stat().st_size == before
    store.close()
    alive_s = Store.open(path).load().last_alive_s
    assert alive_s is not None
    assert 0 <= 1000.0 + 86_380 - alive_s < 60.0


def test_signs_of_life_in_memory_spare_the_disk(path: Path, tmp_path: Path) -> None:
    """With a folder in memory a day of beats stamps the disk once each half hour; after a kill
    the last minute is known, after a power cut (memory gone) the last half hour."""
    memory = tmp_path / "run"
    memory.mkdir()
    store = Store.open(path, memory)
    stamps = set()
    for second in range(0, 86_400, 20):
        store.beat(1000.0 + second)
        stamps.add(path.with_name(path.name + ".alive").stat().st_mtime_ns)
    assert len(stamps) <= 48
    store.close()
    last_s = 1000.0 + 86_380
    alive_s = Store.open(path, memory).load().last_alive_s
    assert alive_s is not None and 0 <= last_s - alive_s < 60.0
    shutil.rmtree(memory)
    alive_s = Store.open(path).load().last_alive_s
    assert alive_s is not None and 0 <= last_s - alive_s <= 1800.0


@pytest.mark.parametrize("value", [b"", b"x", b'{"a":1}' * 900, b"\0z", b"\0zlib?" * 3])
def test_any_state_comes_back_as_it_was(value: bytes, path: Path) -> None:
    """Packed or not; a large one takes less room than it is long."""
    store = Store.open(path)
    store.commit([Remember(key="rule:drag", value=value)], 1.0)
    store.close()
    store = Store.open(path)
    assert store.load().state == {"rule:drag": value}
    (size,) = store._db.execute("SELECT length(value) FROM state").fetchone()
    assert size < max(len(value), 40)
    store.close()


def test_a_state_that_cannot_be_unpacked_is_left_out_and_told(path: Path) -> None:
    """The others are there."""
    store = Store.open(path)
    store.commit([Remember(key="rule:drag", value=b"x" * 900)], 1.0)
    store.commit([Remember(key="watch", value=b"{}")], 1.0)
    store._db.execute("UPDATE state SET value = X'007A00' WHERE key = 'rule:drag'")
    kept = store.load()
    assert kept.state == {"watch": b"{}"}
    assert "rule:drag in the store cannot be read" in kept.problems[0]
    store.close()


def test_the_journal_is_bounded_but_what_stands_stays(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Old rows go, by age and number; rows of an alert that stands are never taken."""
    monkeypatch.setattr(rows, "TRANSITION_ROWS", 30)
    monkeypatch.setattr(rows, "NOTE_ROWS", 20)
    monkeypatch.setattr("shipkeeper.store.store.PRUNE_EVERY", 10)
    store = Store.open(path)
    store.commit([raised(99)], 0.0)
    for number in range(200):
        gone = raised(1, at_s=float(number), state=State.NORMAL)
        news = Note(at_s=float(number), at="", kind="input", text=str(number))
        store.commit([gone, news], float(number))
    kinds = [kind for _, kind, _ in read_journal(path)]
    assert 30 <= kinds.count("transition") <= 30 + 11
    assert 20 <= kinds.count("input") <= 20 + 10
    first = json.loads(next(iter(read_journal(path)))[2])
    assert first["alert"] == record(99).id
    store.close()


def test_a_dead_outlet_cannot_fill_the_disk(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Oldest first, but never the word that an alarm was raised; other outlets keep theirs."""
    monkeypatch.setattr(rows, "OUTBOX_ROWS", 20)
    monkeypatch.setattr("shipkeeper.store.store.PRUNE_EVERY", 1)
    store = Store.open(path)
    for number in range(60):
        alarm = number % 10 == 0
        event = "raised" if alarm else "cleared"
        priority = Priority.ALARM if alarm else Priority.CAUTION
        note = message(number, id=f"m{number}", event=event, priority=priority)
        store.commit([Send(message=note)], 1.0)
        store.commit([Send(message=message(number, id=f"o{number}", outlet="log"))], 1.0)
    left = {m.id for m in store.pending("skipper", 1000)}
    assert {f"m{n}" for n in range(0, 60, 10)} <= left
    assert len(left) == 20
    assert store.waiting("log") == 60  # all of them are raised alarms
    store.close()


def test_the_journal_is_read_by_others(path: Path) -> None:
    """While the daemon writes, after it has gone, and from a folder one may only read."""
    store = Store.open(path)
    for number in range(5):
        store.commit(batch(number), 1000.0 + number)
    command = (
        "import sys; from pathlib import Path; from shipkeeper.store import read_journal;"
        "print(len(list(read_journal(Path(sys.argv[1]), since_s=1002.0, kinds=['transition']))))"
    )
    run = [sys.executable, "-c", command, str(path)]
    env = {**os.environ, "PYTHONPATH": f"{ROOT}/daemon"}
    assert subprocess.run(run, capture_output=True, env=env, check=True).stdout == b"3\n"
    store.close()
    assert subprocess.run(run, capture_output=True, env=env, check=True).stdout == b"3\n"
    assert [at_s for at_s, _, _ in read_journal(path, limit=2)] == [1003.0, 1004.0]
    with pytest.raises(StoreFailed):
        list(read_journal(path.with_name("none.db")))


def test_any_thread_may_call(path: Path) -> None:
    """One at a time is served."""
    store = Store.open(path)

    def work(first: int) -> None:
        for number in range(first, first + 20):
            store.commit([Send(message=message(number, id=f"m{number}"))], 1.0)
            store.pending("skipper", 5)

    threads = [threading.Thread(target=work, args=(100 * n,)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert store.waiting("skipper") == 80
    store.close()
