"""Bytes that a day writes: a quiet day at anchor, and a busy one.

    python -m tests.bench.bytes_written [--hours 2] [--visits 10] [--json]

Every effect goes into a real store as the daemon commits it (quiet_day.py, its boat and orders);
counted is what the kernel took for the disk from this process (/proc/self/io write_bytes), made up
to a day. Busy: `visits` boats an hour come through the guard zone and are acknowledged. The
recording of the same sentences, for orders with a [recorder], is told beside it: as text while it
is written, and packed once it is full. quiet_day.py measures a file system's own journal too.
"""

from __future__ import annotations

import gzip
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from demo import sentences
from demo.sentences import tagged
from tests.bench.measuring import Figures, asked, tell
from tests.bench.quiet_day import day, orders, plan, process_bytes
from tests.drag.recording import START_S, mark

from shipkeeper.engine import Engine
from shipkeeper.store import Store
from shipkeeper.words.effects import Effect, Record
from shipkeeper.words.events import Command, Line, Tick
from shipkeeper.words.geo import from_east_north

SETTLED_S = 600.0
COMES_FROM_M, SPEED_MS = 900.0, 3.0  # she goes right through and away on the other side


class Day:
    """One day's hours, played into a store of its own."""

    def __init__(self, hours: float, visits: float, folder: Path) -> None:
        self.hours, self.visits = hours, visits
        self.commits = self.raised = self.lines = 0
        memory = Path(tempfile.mkdtemp(dir="/dev/shm"))  # where signs of life go under systemd
        store = Store.open(folder / "shipkeeper.db", memory)
        before = process_bytes()
        with gzip.open(folder / "day.nmea.gz", "wt", compresslevel=6) as packed:
            self.recorded = 0
            for at_s, said, effects in self._effects():
                store.beat(at_s)
                done = store._commits
                store.commit(effects, at_s)
                self.commits += store._commits - done
                self.raised += sum(_is_raise(effect) for effect in effects)
                for line in said:
                    text = tagged(line, "boat", at_s) + "\n"
                    self.recorded += len(text)
                    packed.write(text)
        store.close()
        self.packed = (folder / "day.nmea.gz").stat().st_size
        self.stored = process_bytes() - before - self.packed
        shutil.rmtree(memory)

    def _effects(self) -> Iterator[tuple[float, list[str], list[Effect]]]:
        engine = Engine(orders("drag"), START_S - 1.0)
        spot = mark(plan(self.hours))
        acked = set_ = 0
        for at_s, quiet in day(self.hours):
            said = [*quiet, *self._visitor(at_s)]
            effects: list[Effect] = []
            for line in said:
                effects += engine.handle(Line(at_s, "boat", line))
            if not set_ and at_s > START_S + 300:
                set_ = 1
                args = {"how": "at", "lat": spot.lat, "lon": spot.lon, "rode_m": 30.0,
                        "depth_m": 6.0}  # fmt: skip
                effects += engine.handle(Command(at_s, number=1, verb="anchor", args=args))
            effects += engine.handle(Tick(at_s))
            for effect in [e for e in effects if _is_raise(e)]:
                assert isinstance(effect, Record)
                acked += 1
                asked_for = {"id": effect.alert.id}
                effects += engine.handle(
                    Command(at_s, number=1 + acked, verb="ack", args=asked_for)
                )
            self.lines += len(said)
            yield at_s, said, effects

    def _visitor(self, at_s: float) -> list[str]:
        """Where the visitor of the moment is, each ten seconds."""
        into_s = at_s - START_S - SETTLED_S
        if not self.visits or into_s < 0 or int(into_s) % 10:
            return []
        every_s = 3600.0 / self.visits
        number, since_s = divmod(into_s, every_s)
        if since_s > 2 * COMES_FROM_M / SPEED_MS:
            return []
        place = from_east_north(mark(plan(self.hours)), SPEED_MS * since_s - COMES_FROM_M, 120.0)
        return sentences.ais_position(
            299_300_000 + int(number), place.lat, place.lon, SPEED_MS, 90.0, second=int(at_s) % 60
        )


def _is_raise(effect: Effect) -> bool:
    return isinstance(effect, Record) and effect.transition.to == "active-unacknowledged"


def measure(hours: float, visits: float) -> Figures:
    found: Figures = {"hours_played": hours, "visits_an_hour": visits}
    for name, often in (("quiet", 0.0), ("busy", visits)):
        with tempfile.TemporaryDirectory(dir=Path.cwd()) as folder:
            played = Day(hours, often, Path(folder))
        share = 24.0 / hours
        found[f"{name}_day_alerts"] = played.raised * share
        found[f"{name}_day_commits"] = played.commits * share
        found[f"{name}_day_store_mb"] = played.stored / 1e6 * share
        found[f"{name}_day_recording_text_mb"] = played.recorded / 1e6 * share
        found[f"{name}_day_recording_packed_mb"] = played.packed / 1e6 * share
    quiet, busy = found["quiet_day_store_mb"], found["busy_day_store_mb"]
    found["busy_to_quiet"] = busy / quiet if quiet else None
    return found


if __name__ == "__main__":
    args = asked(__doc__, hours=2.0, visits=10.0)
    tell(measure(args.hours, args.visits), args.json)
