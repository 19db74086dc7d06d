"""Which recordings belong together, and that a recorded watch rehearses exactly, restarts too."""

from __future__ import annotations

import gzip
import threading
from datetime import datetime
from pathlib import Path

import pytest
from demo import night
from demo.sentences import tagged

from shipkeeper.app.headers import Headers
from shipkeeper.app.kinds import KINDS
from shipkeeper.app.recorder import Recorder
from shipkeeper.engine import Engine
from shipkeeper.orders import read
from shipkeeper.rehearse.passages import passages
from shipkeeper.rehearse.recording import Recording
from shipkeeper.rehearse.rehearsal import Rehearsal, Start
from shipkeeper.rehearse.tasks import Task, perform
from shipkeeper.words.alert import Transition
from shipkeeper.words.effects import Effect, Record
from shipkeeper.words.events import Command, Event, Line, Tick
from shipkeeper.words.orders import Orders
from shipkeeper.words.remembered import Remembered
from shipkeeper.words.timing import utc_text

RMC = "$GPRMC,{clock},A,3000.000,S,02000.000,W,0.0,0.0,{date},,,A"


def plain(path: Path, *times: tuple[str, str]) -> Recording:
    lines = []
    for clock, date in times:
        body = RMC.format(clock=clock, date=date)
        xor = 0
        for character in body[1:]:
            xor ^= ord(character)
        lines.append(f"{body}*{xor:02X}")
    path.write_text("\n".join(lines) + "\n")
    return Recording(path)


def test_receivers_of_one_night_are_one_passage_and_nights_apart_are_two(tmp_path: Path) -> None:
    """Overlapping files together, one that follows within half an hour too, a day later apart;
    whatever the order they are given in."""
    first = plain(tmp_path / "gnss", ("220000", "110626"), ("230000", "110626"))
    other = plain(tmp_path / "ais", ("223000", "110626"), ("225900", "110626"))
    after = plain(tmp_path / "more", ("231500", "110626"), ("233000", "110626"))
    later = plain(tmp_path / "next", ("220000", "120626"), ("230000", "120626"))
    found = passages([later, after, other, first])
    assert [[p.name for p in passage.paths] for passage in found] == [
        ["gnss", "ais", "more"],
        ["next"],
    ]


def test_a_foreign_log_is_not_asked_for_inputs_that_it_does_not_name(
    tmp_path: Path, orders: Orders
) -> None:
    """The orders expect an input `boat`; a log whose lines name no source, or others, is judged
    without; one that names it keeps it, so that its silence is told."""
    text = orders.text + '\n[[input]]\nname = "boat"\ntcp = "127.0.0.1:1"\nexpect = ["depth"]\n'
    with_input, _, _ = read(text, "orders", KINDS)
    assert with_input is not None
    (foreign,) = passages([plain(tmp_path / "log", ("220000", "110626"))])
    assert foreign.fitted(with_input).inputs == ()
    tagged_path = tmp_path / "tagged"
    sentence = (tmp_path / "log").read_text().strip()
    tagged_path.write_text(tagged(sentence, "boat", 1_781_215_200.0) + "\n")
    (named,) = passages([Recording(tagged_path)])
    assert named.fitted(with_input) is with_input


def test_an_empty_file_is_refused_by_name(tmp_path: Path) -> None:
    """One line that names it."""
    path = tmp_path / "none.nmea"
    path.write_text("nothing here\n")
    with pytest.raises(ValueError, match=r"none\.nmea: no sentence in it"):
        passages([Recording(path)])


def test_a_torn_gzip_counts_up_to_the_tear(
    tmp_path: Path, heard: list[night.Heard], orders: Orders
) -> None:
    """A power cut in the middle of packing: what came before counts, and the tear is told."""
    whole = "".join(tagged(h.sentence, h.wire, h.utc_s) + "\n" for h in heard[:4000]).encode()
    path = tmp_path / "torn.nmea.gz"
    path.write_bytes(gzip.compress(whole)[:20_000])
    outcome = perform(Task((path,), orders, Start(watch="underway")))
    assert outcome.torn == ("torn.nmea.gz",)
    assert 100 < outcome.lines < 4000


class Watch:
    """A daemon's run without its threads: engine, recorder, and what it told."""

    def __init__(self, orders: Orders, folder: Path, now_s: float, before: Watch | None) -> None:
        self.engine = Engine(orders, now_s)
        self.told: list[Transition] = []
        self.last_s = now_s
        remembered, gap_s = Remembered(), None
        if before is not None:
            last_s = before.last_s
            remembered = Remembered(
                alerts=tuple(before.engine.records()), state=before.engine.memory(),
                last_alive_s=last_s, next_number=9,
            )  # fmt: skip
            gap_s = now_s - last_s
        headers = Headers(orders, self.engine)
        self.recorder = Recorder(folder, headers.later, keep_s=1e9, limit_bytes=8e5)
        self.recorder.begin(headers.first(remembered, now_s, gap_s))
        self._take(self.engine.restore(remembered, gap_s))

    def give(self, event: Event) -> None:
        self.recorder.take(event)
        self._take(self.engine.handle(event))
        self.last_s = event.at_s

    def end(self, at_s: float) -> None:
        self._take(self.engine.handle(Tick(at_s)))
        self.recorder.end(at_s)
        stop = threading.Event()
        stop.set()
        self.recorder.run(stop)

    def _take(self, effects: list[Effect]) -> None:
        self.told += [e.transition for e in effects if isinstance(e, Record)]


def test_a_watch_with_a_restart_and_many_files_rehearses_exactly(
    tmp_path: Path, heard: list[night.Heard], orders: Orders
) -> None:
    """The boat drags, somebody acknowledges, the daemon is started anew with the alert standing,
    and the files are rolled by size meanwhile: the rehearsal of the folder gives the very lines,
    with the remembered alert and its answer, and to the end of each run."""
    a, b, c = (night.START + night.at(clock) for clock in ("02:58", "03:10", "03:13"))
    first = Watch(orders, tmp_path, a, None)
    args = {"how": "at", "lat": night.ANCHOR.lat, "lon": night.ANCHOR.lon, "rode_m": 40.0}
    first.give(Command(a, number=1, verb="anchor", args=args | {"depth_m": 7.2}))
    for one in heard:
        if a <= one.utc_s < b:
            first.give(Line(one.utc_s, one.wire, one.sentence))
    first.give(Command(b, number=2, verb="ack", args={"id": "drag"}, who="ann"))
    first.end(b + 5)
    second = Watch(orders, tmp_path, b + 20, first)
    for one in heard:
        if b + 20 <= one.utc_s < c:
            second.give(Line(one.utc_s, one.wire, one.sentence))
    second.end(c + 90)
    assert {t.to for t in first.told if t.alert == "drag"} >= {"active-acknowledged"}
    assert any(t.kind == "feed" for t in second.told), "the silence at the end was told"

    found = passages([Recording(path) for path in sorted(tmp_path.iterdir())])
    assert len(found) == 2
    assert len(found[0].paths) > 2
    rehearsed = [
        one.transition
        for passage in found
        for one in perform(Task(passage.paths, orders, Start())).told
    ]
    assert rehearsed == first.told + second.told


def test_a_file_from_the_middle_of_a_watch_begins_with_what_stood(
    tmp_path: Path, heard: list[night.Heard], orders: Orders
) -> None:
    """Alone, without the files before it: watch, mark and the standing alert come from its
    header, nothing is told twice or as restored, and what happens from there on is what it was,
    to within the minute at which rules keep their memory."""
    a, c = (night.START + night.at(clock) for clock in ("02:58", "03:14"))
    watch = Watch(orders, tmp_path, a, None)
    args = {"how": "at", "lat": night.ANCHOR.lat, "lon": night.ANCHOR.lon, "rode_m": 40.0}
    watch.give(Command(a, number=1, verb="anchor", args=args | {"depth_m": 7.2}))
    for one in heard:
        if a <= one.utc_s < c:
            watch.give(Line(one.utc_s, one.wire, one.sentence))
    watch.give(Command(c, number=2, verb="ack", args={"id": "drag"}, who="ann"))
    watch.end(c)
    last = max(p for p in tmp_path.iterdir() if (h := Recording(p).header) and h.alerts)
    header = Recording(last).header
    assert header is not None
    assert [r.id for r in header.alerts] == ["drag"]
    rehearsal = Rehearsal(orders, Start(), header)
    told = list(rehearsal.run(Recording(last).events()))
    was = [t for t in watch.told if t.at > utc_text(header.started_s)]
    assert was, "something happens after the beginning of that file"
    assert [(t.transition.alert, t.transition.to) for t in told] == [(t.alert, t.to) for t in was]
    assert not any("Restored" in t.transition.text for t in told)
    for again, other in zip(told, was, strict=True):
        at_s = datetime.fromisoformat(other.at).timestamp()
        assert abs(again.at_s - at_s) <= 60.0
