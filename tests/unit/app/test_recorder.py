"""app/recorder.py: what the engine was given, kept so that a rehearsal gives the same."""

from __future__ import annotations

import gzip
import random
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from shipkeeper.app.recorder import Recorder, compress, prune
from shipkeeper.rehearse.recording import Header, Recording
from shipkeeper.words.events import ClockNews, Command, Event, InputNews, Line, Tick

START_S = 1_781_215_200.0  # 2026-06-11T22:00:00Z
RMC = "$GPRMC,092725.00,A,4717.11437,N,00833.91522,E,0.004,77.52,091202,,,A*57"


def header(at_s: float) -> Header:
    return Header(
        started_s=at_s, orders='[vessel]\nname = "Möwe"\n', inputs=("boat",), state={"watch": b"{}"}
    )


def record(folder: Path, events: Sequence[Event], limit: float = 2e9) -> None:
    """Take the events and let the recorder's thread write them, as the daemon does."""
    recorder = Recorder(folder, header, keep_s=86_400.0 * 14, limit_bytes=limit)
    stop = threading.Event()
    thread = threading.Thread(target=recorder.run, args=(stop,))
    thread.start()
    for event in events:
        recorder.take(event)
    stop.set()
    thread.join(10)
    assert not thread.is_alive()


def test_what_was_recorded_is_read_back_the_same(tmp_path: Path) -> None:
    """Lines, their sources and stamps, junk, device's own TAG blocks, commands and news."""
    events: list[Event] = [
        ClockNews(START_S, START_S, "synchronised"),
        InputNews(START_S + 0.001, "boat", True),
        Line(START_S + 0.5, "boat", RMC),
        Line(START_S + 0.5, "boat", "# junk that looks like a remark"),
        Line(START_S + 0.6, "mast, häuser", r"\s:rx,c:1781215200*06" + "\\" + RMC),
        Command(START_S + 1.25, number=1, verb="anchor", args={"how": "here"}, who="ann"),
    ]
    record(tmp_path, events)
    (path,) = tmp_path.iterdir()
    assert path.name == "20260611T220000-000Z.nmea"
    recording = Recording(path)
    assert recording.header == header(START_S)
    assert list(recording.events()) == events


def test_the_lines_are_the_open_format(tmp_path: Path) -> None:
    """One sentence a line behind a TAG block with s and c in milliseconds (DESIGN section 6);
    the checksum 6C of the block reckoned by hand here as XOR of its characters."""
    record(tmp_path, [Line(START_S + 0.5, "boat", RMC)])
    (path,) = tmp_path.iterdir()
    body = "s:boat,c:1781215200500"
    xor = 0
    for character in body:
        xor ^= ord(character)
    assert path.read_text().splitlines()[1] == f"\\{body}*{xor:02X}\\{RMC}"


def test_ticks_and_questions_are_not_kept(tmp_path: Path) -> None:
    """What changes nothing fills no card: ticks, status, alerts, targets, measure."""
    asked = [
        Command(START_S + n, number=n, verb=verb)
        for n, verb in enumerate(("status", "alerts", "targets", "measure"))
    ]
    record(tmp_path, [*asked, Tick(START_S + 9.0), Line(START_S + 10.0, "boat", RMC)])
    (path,) = tmp_path.iterdir()
    assert len(path.read_text().splitlines()) == 2


def test_a_new_file_at_noon_and_the_old_one_gzipped(tmp_path: Path) -> None:
    """The file of the night ends at 12:00 UTC; it is packed, whole, and the next begins with
    a header of its own."""
    events: list[Event] = [
        Line(START_S, "boat", RMC),
        Line(START_S + 14 * 3600 - 0.001, "boat", RMC),
        Line(START_S + 14 * 3600, "boat", RMC),
    ]
    record(tmp_path, events)
    first, second = sorted(tmp_path.iterdir())
    assert first.name == "20260611T220000-000Z.nmea.gz"
    assert second.name == "20260612T120000-000Z.nmea"
    assert list(Recording(first).events()) == events[:2]
    assert list(Recording(second).events()) == events[2:]
    assert Recording(second).header == header(START_S + 14 * 3600)


def test_a_file_left_open_by_a_power_cut_is_packed_and_readable(tmp_path: Path) -> None:
    """The torn last line of a killed run costs that line only."""
    record(tmp_path, [Line(START_S, "boat", RMC), InputNews(START_S + 1, "boat", False, "gone")])
    (path,) = tmp_path.iterdir()
    path.write_bytes(path.read_bytes()[:-20])
    record(tmp_path, [Line(START_S + 60, "boat", RMC)])
    torn, whole = sorted(tmp_path.iterdir())
    assert torn.suffix == ".gz"
    assert list(Recording(torn).events()) == [Line(START_S, "boat", RMC)]
    assert list(Recording(whole).events()) == [Line(START_S + 60, "boat", RMC)]


def test_the_old_and_the_too_many_go(tmp_path: Path) -> None:
    """Bounded by days, then by bytes, the oldest first; the file being written stays."""
    for day in range(1, 6):
        with gzip.open(tmp_path / f"2026060{day}T120000-000Z.nmea.gz", "wb", compresslevel=0) as f:
            f.write(b"x" * 1000)
    (tmp_path / "20260606T120000-000Z.nmea").write_bytes(b"y" * 1000)
    third_s = 1_780_488_000.0  # 2026-06-03T12:00:00Z
    gone = prune(tmp_path, third_s, 1e9)
    assert [path.name[:8] for path in gone] == ["20260601", "20260602"]
    gone = prune(tmp_path, third_s, 3000.0)
    assert [path.name[:8] for path in gone] == ["20260603", "20260604"]
    assert len(list(tmp_path.iterdir())) == 2


def test_a_small_limit_makes_small_files_and_is_kept(tmp_path: Path) -> None:
    """Of 800 kB no file is more than an eighth, and all together stay below, also packed badly."""
    lines = [
        Line(START_S + n, "boat", f"$XXTXT,{random.Random(n).getrandbits(500):0126x}*00")
        for n in range(12_000)
    ]
    for begin in range(0, len(lines), 1000):
        record(tmp_path, list(lines[begin : begin + 1000]), limit=8e5)
    sizes = [p.stat().st_size for p in tmp_path.iterdir()]
    assert max(sizes) <= 1.01e5
    assert sum(sizes) <= 8e5
    assert [*Recording(max(tmp_path.iterdir())).events()][-1] == lines[-1]


_KILLED = """
import sys, threading, time
from pathlib import Path
from shipkeeper.app.recorder import Recorder
from shipkeeper.rehearse.recording import Header
from shipkeeper.words.events import Line
recorder = Recorder(Path(sys.argv[1]), lambda at_s: Header(started_s=at_s),
                    keep_s=1e6, limit_bytes=2e9, flush_every_s=0.25)
threading.Thread(target=recorder.run, args=(threading.Event(),), daemon=True).start()
while True:
    recorder.take(Line(round(time.time(), 3), "boat", "$GPXXX*00"))
    time.sleep(0.005)
"""


def test_kill_9_costs_no_more_than_the_time_between_two_writes(tmp_path: Path) -> None:
    """A process killed in mid-recording, with writes each 0.25 s instead of each 50 s: what is
    older than that (and a second of slack for a loaded machine) is on disk and readable."""
    with subprocess.Popen([sys.executable, "-c", _KILLED, str(tmp_path)]) as process:
        deadline = time.monotonic() + 20
        while time.monotonic() < deadline and not any(tmp_path.iterdir()):
            time.sleep(0.05)
        time.sleep(0.5)
        killed_s = time.time()
        process.kill()
    (path,) = tmp_path.iterdir()
    last = [*Recording(path).events()][-1]
    assert killed_s - last.at_s < 0.25 + 1.0


def test_the_end_of_the_watch_is_kept(tmp_path: Path) -> None:
    """A rehearsal goes on to the end of the watch, not only to the last line."""
    recorder = Recorder(tmp_path, header, keep_s=1e6, limit_bytes=2e9)
    recorder.begin(header(START_S))
    recorder.end(START_S + 70.0)
    stop = threading.Event()
    stop.set()
    recorder.run(stop)
    (path,) = tmp_path.iterdir()
    assert list(Recording(path).events()) == [Tick(START_S + 70.0)]


def test_packing_leaves_either_the_plain_file_or_the_packed_one(tmp_path: Path) -> None:
    """After packing the bytes are the same and no part file is left."""
    plain = tmp_path / "a.nmea"
    plain.write_text("# header {}\n" + RMC + "\n")
    packed = compress(plain)
    assert [p.name for p in tmp_path.iterdir()] == ["a.nmea.gz"]
    assert gzip.decompress(packed.read_bytes()).decode().endswith(RMC + "\n")


def test_a_disk_that_refuses_is_an_error_for_the_supervisor(tmp_path: Path) -> None:
    """The folder is a file: the worker raises OSError, and a new run begins a new file."""
    blocked = tmp_path / "recordings"
    blocked.write_text("in the way")
    recorder = Recorder(blocked, header, keep_s=1e6, limit_bytes=2e9)
    recorder.take(Line(START_S, "boat", RMC))
    with pytest.raises(OSError):
        recorder.run(threading.Event())
    blocked.unlink()
    stop = threading.Event()
    thread = threading.Thread(target=recorder.run, args=(stop,))
    thread.start()
    threading.Event().wait(0.2)
    recorder.take(Line(START_S + 1, "boat", RMC))
    stop.set()
    thread.join(10)
    found = [e for p in sorted(blocked.iterdir()) for e in Recording(p).events()]
    assert found[-1] == Line(START_S + 1, "boat", RMC)
