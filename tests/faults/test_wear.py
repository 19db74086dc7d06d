"""A quiet day wears no card: bytes given to the disk, the log and its checkpoints included."""

from __future__ import annotations

from pathlib import Path

from tests.bench.quiet_day import play

from shipkeeper.store import Store

MOST_A_DAY = 1_000_000  # our goal
HOURS = 2.0


def written_bytes() -> int:
    """All that this process handed to write calls so far (proc_pid_io(5): wchar)."""
    rows = dict(r.split(": ") for r in Path("/proc/self/io").read_text().splitlines())
    return int(rows["wchar"])


def test_a_quiet_day_writes_less_than_a_megabyte(tmp_path: Path) -> None:
    """Two hours at anchor with six rules through the engine into a store, times twelve. The
    whole day on a disk of its own: tests/bench/quiet_day.py."""
    store = Store.open(tmp_path / "shipkeeper.db", tmp_path)
    before = written_bytes()
    commits = play(store, HOURS, "drag")
    store.close()
    assert commits >= 4
    assert (written_bytes() - before) * 24 / HOURS < MOST_A_DAY
