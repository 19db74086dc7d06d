"""Campaign: a disk that is full, read-only, slow, damaged or gone, under the real daemon.

    nice python -m tests.faults.disks [WORD]

Every row: an alarm before, then the fault, and alarms in it that must sound on time and reach the
phone; the person is told that the store cannot write; when the disk is well again everything that
was raised and answered meanwhile is in the journal, once, and a kill and restart after that finds
it so. Full disks are small ones in memory and want root; where that may not be mounted, the shim
says ENOSPC instead, and the row says so. Ends with 1 when something did not go so.
"""

from __future__ import annotations

import contextlib
import errno
import os
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from tests.faults.aboard import ON_TIME_S, WAITS, Aboard, aboard, doubled, left, told_on
from tests.faults.disk import Sick, sick
from tests.live.boat import BUZZER, PHONE
from tests.peers.small_disk import NoRight, SmallDisk

Row = Callable[["Aboard", "Told"], None]
TANKS = 8
SIZE = "2m"
SOUNDS_WITHIN_S = 5.0  # again, after a restart
PUSHED_WITHIN_S = 6.0  # two seconds' patience with the store, and what a busy machine adds


@dataclass
class Told:
    """What a row came to."""

    sounds_s: list[float] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    how: str = ""


@contextmanager
def small_disk(boat: Aboard, told: Told) -> Iterator[tuple[Callable[[], None], Callable[[], None]]]:
    """(fill it, empty it) of the disk that the state folder is on."""
    try:
        disk = SmallDisk(boat.boat.state, SIZE)
    except NoRight:
        boat.boat.state.rmdir()
        with sick_disk(boat) as shim:
            told.how = "by the shim"
            yield (lambda: shim.fails(errno.ENOSPC)), shim.well
        return
    with disk:
        yield disk.fill, disk.empty
        boat.kill()


@contextmanager
def sick_disk(boat: Aboard) -> Iterator[Sick]:
    """A disk under the state folder that does as it is told."""
    boat.boat.state.mkdir(exist_ok=True)
    shim = sick(boat.boat.state, boat.boat.folder)
    boat.environment = shim.environment
    yield shim


def alarm(boat: Aboard, number: int, told: Told, *, pushed: bool = True) -> None:
    """An alarm in the fault: on time to the ear, and soon on the phone."""
    took_s = boat.lower(number)
    told.sounds_s.append(took_s)
    if took_s > ON_TIME_S:
        load = os.getloadavg()[0]
        told.wrong.append(f"tank {number} sounded after {took_s:.1f} s, load {load:.1f}")
    if pushed:
        on_phone(boat, number, told)


def on_phone(boat: Aboard, number: int, told: Told) -> None:
    edge_s = time.monotonic() + PUSHED_WITHIN_S
    while not any(f"TANK {number} LOW" in f"{m['title']} {m['message']}" for m in boat.pushed()):
        if time.monotonic() > edge_s:
            told.wrong.append(f"tank {number} is not on the phone after {PUSHED_WITHIN_S:.0f} s")
            return
        time.sleep(0.02)


def answered(boat: Aboard, number: int, told: Told, *, kept: bool) -> None:
    """A person takes note, and is told whether it would last."""
    answer = boat.say("ack", id=f"tank-{number}")
    if (answer["code"] == 0) is not kept or ("could not keep" in answer["text"]) is kept:
        told.wrong.append(f"the answer for tank {number}: {answer['code']} {answer['text']}")


def caution(boat: Aboard, told: Told, *, stands: bool, within_s: float = 20.0) -> None:
    """The store's own alert."""
    try:
        boat.until(lambda: (boat.standing("self:store") is not None) is stands, within_s, fed=True)
    except TimeoutError:
        told.wrong.append(f"the caution of the store {'does not stand' if stands else 'stands'}")


def kept(boat: Aboard, raised: set[int], noted: set[int], told: Told) -> None:
    """All of it is in the journal, once; and so it is found after a kill and a restart."""

    def there() -> bool:
        now = left(boat.boat.state)
        return now is not None and in_journal(now.journal) >= raised and not now.owed

    try:
        boat.until(there, 30.0, fed=True)
    except TimeoutError:
        now = left(boat.boat.state)
        found = in_journal(now.journal) if now is not None else None
        told.wrong.append(f"raised were {raised}, in the journal are {found}, "
                          f"owed {now and len(now.owed)}")  # fmt: skip
    boat.kill()
    now = left(boat.boat.state)
    if now is not None:
        told.wrong += [f"twice: {what}" for what in doubled(now.journal)]
    single, listed = told_on(boat.pushed())
    if len(single | listed) < len(raised):
        told.wrong.append(f"raised were {raised}, the phone was told {single | listed}")
    boat.start()
    restored(boat, raised, noted, told)


def in_journal(journal: list[dict[str, object]]) -> set[int]:
    """The tanks that were raised."""
    return {
        int(str(row["alert"]).removeprefix("tank-"))
        for row in journal
        if str(row["alert"]).startswith("tank-") and row["to"] == "active-unacknowledged"
    }


def restored(
    boat: Aboard, raised: set[int], noted: set[int], told: Told, *, sounds: bool = True
) -> None:
    """After a start, before any data: the watch is set, and each alarm is as it was."""
    assert boat.daemon is not None
    if raised - noted and sounds:
        took_s = boat.daemon.says("buzzer  .") - boat.daemon.began_s
        if took_s > SOUNDS_WITHIN_S:
            told.wrong.append(f"after the restart silent for {took_s:.1f} s")
    if boat.state()["watch"] != "anchored":
        told.wrong.append("after the restart no watch is set")
    for number in sorted(raised):
        row = boat.standing(f"tank-{number}")
        state = row["state"] if row is not None else "not there"
        if (state == "active-acknowledged") is not (number in noted) or (
            number not in noted and state not in WAITS
        ):
            told.wrong.append(f"after the restart tank {number} is {state}")


# -- the rows ------------------------------------------------------------------------------------


def full(boat: Aboard, told: Told) -> None:
    """The disk runs full in the watch."""
    with small_disk(boat, told) as (fill, empty):
        boat.start()
        boat.anchor()
        alarm(boat, 1, told)
        answered(boat, 1, told, kept=True)
        fill()
        alarm(boat, 2, told)
        answered(boat, 2, told, kept=False)
        caution(boat, told, stands=True)
        alarm(boat, 3, told)
        empty()
        caution(boat, told, stands=False)
        kept(boat, {1, 2, 3}, {1, 2}, told)


def full_at_the_start(boat: Aboard, told: Told) -> None:
    """A restart on a full disk: what it holds is the watch."""
    with small_disk(boat, told) as (fill, empty):
        boat.start()
        boat.anchor()
        alarm(boat, 1, told)
        answered(boat, 1, told, kept=True)
        alarm(boat, 2, told)
        boat.kill()
        fill()
        boat.start()
        restored(boat, {1, 2}, {1}, told)
        answered(boat, 2, told, kept=False)
        alarm(boat, 3, told)
        empty()
        caution(boat, told, stands=False)
        kept(boat, {1, 2, 3}, {1, 2}, told)


def read_only(boat: Aboard, told: Told) -> None:
    """The card turns read-only in the watch, and comes back."""
    with sick_disk(boat) as disk:
        boat.start()
        boat.anchor()
        alarm(boat, 1, told)
        answered(boat, 1, told, kept=True)
        disk.fails(errno.EROFS)
        alarm(boat, 2, told)
        answered(boat, 2, told, kept=False)
        caution(boat, told, stands=True)
        alarm(boat, 3, told)
        disk.well()
        caution(boat, told, stands=False)
        kept(boat, {1, 2, 3}, {1, 2}, told)


def read_only_at_the_start(boat: Aboard, told: Told) -> None:
    """A restart on a card that is read-only, for good at first."""
    try:
        disk = SmallDisk(boat.boat.state, SIZE)
    except NoRight:
        told.how = "left out: no right to mount"
        return
    with disk:
        boat.start()
        boat.anchor()
        alarm(boat, 1, told)
        answered(boat, 1, told, kept=True)
        alarm(boat, 2, told)
        boat.kill()
        disk.read_only()
        # systemd's folder in memory; in the state folder no socket can be made now.
        boat.environment = {"RUNTIME_DIRECTORY": str(boat.runtime())}
        boat.start()
        restored(boat, {1, 2}, {1}, told)
        alarm(boat, 3, told)
        disk.writable()
        caution(boat, told, stands=False)
        kept(boat, {1, 2, 3}, {1}, told)
        boat.kill()


def broken(boat: Aboard, told: Told) -> None:
    """Every write is an error of the device."""
    with sick_disk(boat) as disk:
        boat.start()
        boat.anchor()
        disk.fails(errno.EIO)
        alarm(boat, 1, told)
        answered(boat, 1, told, kept=False)
        caution(boat, told, stands=True)
        alarm(boat, 2, told)
        disk.well()
        caution(boat, told, stands=False)
        kept(boat, {1, 2}, {1}, told)


def slow(boat: Aboard, told: Told) -> None:
    """Each sync takes three seconds."""
    with sick_disk(boat) as disk:
        boat.start()
        boat.anchor()
        alarm(boat, 1, told)
        answered(boat, 1, told, kept=True)
        disk.stalls(3.0)
        alarm(boat, 2, told)
        boat.answered(2)
        caution(boat, told, stands=True)
        alarm(boat, 3, told)
        disk.well()
        boat.boat.until(lambda: boat.state()["daemon"]["store_ok"])
        boat.feed(650)  # it came and went so often that it stands for ten minutes more
        caution(boat, told, stands=False)
        kept(boat, {1, 2, 3}, {1, 2}, told)


def dead_at_the_start(boat: Aboard, told: Told) -> None:
    """A start at which the disk answers only after 12 s, longer than is waited for it: there is no
    watch at first, which is told by ear; then it is there."""
    with sick_disk(boat) as disk:
        boat.start()
        boat.anchor()
        alarm(boat, 1, told)
        boat.kill()
        spoil(boat.boat.state / "shipkeeper.db", b"outbox")  # it must be replaced: that syncs
        disk.stalls(12.0)
        boat.start()
        assert boat.daemon is not None
        boat.daemon.says("it is forgotten")
        disk.well()
        boat.daemon.says("starting afresh", 40.0)
        boat.daemon.says("TANK 1")
        restored(boat, {1}, set(), told, sounds=False)


def spoil(path: Path, table: bytes) -> None:
    """The page where that table begins becomes noise."""
    with contextlib.closing(sqlite3.connect(path)) as db:
        (page,) = db.execute(
            "SELECT rootpage FROM sqlite_master WHERE name = ?", (table.decode(),)
        ).fetchone()
        (size,) = db.execute("PRAGMA page_size").fetchone()
        db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    with path.open("r+b") as file:
        file.seek((page - 1) * size)
        file.write(b"\xff" * size)


def damaged(boat: Aboard, told: Told) -> None:
    """Noise in a table, found at a start: set aside, named, never deleted; the rest is kept."""
    boat.start()
    boat.anchor()
    alarm(boat, 1, told)
    answered(boat, 1, told, kept=True)
    alarm(boat, 2, told)
    boat.kill()
    spoil(boat.boat.state / "shipkeeper.db", b"outbox")
    boat.start()
    restored(boat, {1, 2}, {1}, told)
    caution(boat, told, stands=True)
    boat.answered(2)
    alarm(boat, 3, told)
    set_aside(boat, told)
    kept(boat, {1, 2, 3}, {1, 2}, told)


def damaged_in_the_watch(boat: Aboard, told: Told) -> None:
    """All of it becomes noise under the daemon's hands: found by a commit a minute on,
    set aside, told, and what stands is written anew. Of the journal what was before is set aside
    with it."""
    boat.start()
    boat.anchor()
    alarm(boat, 1, told)
    boat.answered(1)
    for tail in ("", "-wal"):
        path = boat.boat.state / f"shipkeeper.db{tail}"
        with path.open("r+b") as file:
            file.write(os.urandom(path.stat().st_size))
    alarm(boat, 2, told)
    boat.feed(70)
    boat.answered(2)
    boat.until(lambda: asides(boat), fed=True)
    caution(boat, told, stands=True)
    alarm(boat, 3, told)
    boat.until(lambda: 3 in in_journal(now.journal if (now := left(boat.boat.state)) else []),
               fed=True)  # fmt: skip
    boat.kill()
    boat.start()
    restored(boat, {1, 2, 3}, {1, 2}, told)
    if len(asides(boat)) > 3:  # the file and its log
        told.wrong.append(f"set aside more than once: {asides(boat)}")


def all_noise(boat: Aboard, told: Told) -> None:
    """Nothing at all can be read at a start, nor the watch's spare copy: that the watch may be
    forgotten is told by ear."""
    boat.start()
    boat.anchor()
    boat.kill()
    for path in boat.boat.state.glob("shipkeeper.db*"):
        path.write_bytes(os.urandom(path.stat().st_size))
    boat.start()
    assert boat.daemon is not None
    boat.daemon.says("it is forgotten")
    set_aside(boat, told)
    boat.anchor()
    alarm(boat, 1, told)
    kept(boat, {1}, set(), told)


def asides(boat: Aboard) -> list[str]:
    return [p.name for p in boat.boat.state.iterdir() if ".damaged-" in p.name]


def set_aside(boat: Aboard, told: Told) -> None:
    if not asides(boat):
        told.wrong.append("nothing was set aside")


def taken_away(boat: Aboard, told: Told) -> None:
    """Somebody deletes the store in the watch."""
    boat.start()
    boat.anchor()
    alarm(boat, 1, told)
    boat.answered(1)
    for path in boat.boat.state.glob("shipkeeper.db*"):
        path.unlink()
    boat.feed(70)  # it is looked for once a minute
    boat.until(lambda: (boat.boat.state / "shipkeeper.db").exists(), fed=True)
    alarm(boat, 2, told)
    kept(boat, {1, 2}, {1}, told)


ROWS = (full, full_at_the_start, read_only, read_only_at_the_start, broken, slow, dead_at_the_start,
        damaged, damaged_in_the_watch, all_noise, taken_away)  # fmt: skip


def play(row: Row) -> Told:
    told = Told()
    with (
        tempfile.TemporaryDirectory(prefix="shipkeeper-disks-") as name,
        aboard(Path(name), BUZZER, PHONE, tanks=TANKS) as boat,
    ):
        try:
            row(boat, told)
        except (TimeoutError, AssertionError, RuntimeError) as error:
            told.wrong.append(repr(error))
    return told


def main(word: str) -> int:
    wrong, sounds = 0, list[float]()
    for row in ROWS:
        if word not in row.__name__:
            continue
        began_s = time.monotonic()
        told = play(row)
        wrong += bool(told.wrong)
        sounds += told.sounds_s
        name = row.__name__.replace("_", " ")
        good = "WRONG" if told.wrong else "GOOD "
        print(f"{good} {name} {told.how}: {len(told.sounds_s)} alarms, "
              f"the slowest sound after {max(told.sounds_s, default=0.0):.2f} s "
              f"({time.monotonic() - began_s:.0f} s)", flush=True)  # fmt: skip
        for line in told.wrong:
            print(f"      {line}")
    print(f"{len(sounds)} alarms, {wrong} rows not as they should be")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1] if len(sys.argv) > 1 else ""))
