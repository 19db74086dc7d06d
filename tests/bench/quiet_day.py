"""What a quiet day writes to the disk: a day at anchor through the engine into a real store.

    PYTHONPATH=daemon:. python -m tests.bench.quiet_day FOLDER [--hours 24] [--rule drag|circle]

FOLDER on a file system of its own (an ext4 image on a loop device, say) is asked of its
device, so the file system's own journal counts; else what this process wrote is told
(/proc/self/io write_bytes: pages given to the disk, the log and its checkpoints included).
The day is played as fast as it goes, with the store's signs of life (kept in memory but for
one each half hour, as under systemd).
"""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from demo import sentences
from tests.drag.recording import START_S, mark
from tests.drag.recording import sentences as said_by

from shipkeeper.app.kinds import KINDS
from shipkeeper.engine import Engine
from shipkeeper.orders import read
from shipkeeper.simulate import Boat, NightPlan, Rode, WindKnot, simulate, tide
from shipkeeper.store import Store
from shipkeeper.words.effects import Effect
from shipkeeper.words.events import Command, Line, Tick
from shipkeeper.words.orders import Orders

ORDERS = """
[vessel]
name = "Marren"
length = "11.4 m"
beam = "3.6 m"
rode = "chain"
bow_height = "1.3 m"
antenna = { from_bow = "8.9 m", from_port = "1.8 m" }
transducer_depth = "0.6 m"
draught = "1.8 m"

[[input]]
name = "boat"
tcp = "127.0.0.1:9"
expect = ["position"]

[[zone]]
name = "guard zone"
around = "ship"
ring = { to = "0.15 NM" }

[[proximity]]
name = "close quarters"
cpa = "0.1 NM"
tcpa = "10 min"
within = "2 NM"

[drag]
DRAG

[[depth]]
name = "shoal water"
shallower_than = "2.5 m"
reference = "waterline"

[[wind]]
name = "blow"
stronger_than = "25 kn"
"""
DRAGS = {"drag": 'false_alarms = "1 in 365 nights"', "circle": 'radius = "60 m"'}


def orders(rule: str) -> Orders:
    found, problems, _ = read(ORDERS.replace("DRAG", DRAGS[rule]), "quiet.toml", KINDS)
    assert found is not None, problems
    return found


def plan(hours: float) -> NightPlan:
    """A fair day: light airs that back and veer, a tide, nothing else."""
    duration_s = hours * 3600
    knots = [
        WindKnot(t, 3.0 + (n % 5), 200 + 25 * (n % 4))
        for n, t in enumerate(range(0, int(duration_s) + 7200, 7200))
    ]
    return NightPlan(
        seed=4, wind=tuple(knots), duration_s=duration_s, rate_hz=1.0, depth_m=6.0,
        boat=Boat(), rode=Rode(length_m=30.0, chain_m=30.0, entered_m=30.0),
        tide=tide(1.2, phase=1.6, duration_s=duration_s),
    )  # fmt: skip


def neighbours(at_s: float) -> Iterator[str]:
    """Five boats at anchor nearby, heard every three minutes each."""
    for number in range(5):
        if int(at_s) % 180 == number * 31:
            lat = 57.1 + 0.001 * number + 0.006
            yield from sentences.ais_position(299000100 + number, lat, -5.2, 0.0, 0.0, nav_status=1)


def day(hours: float) -> Iterator[tuple[float, list[str]]]:
    chosen = plan(hours)
    for sample in simulate(chosen):
        at_s = START_S + sample.t_s
        yield at_s, [*said_by(chosen, sample), *neighbours(at_s)]


def play(store: Store, hours: float, rule: str) -> int:
    """Every effect to the store, as the daemon's keeper commits it; returns the commits."""
    engine = Engine(orders(rule), START_S - 1.0)
    spot = mark(plan(hours))
    commits, set_ = 0, False
    for at_s, lines in day(hours):
        effects: list[Effect] = []
        for line in lines:
            effects += engine.handle(Line(at_s, "boat", line))
        if not set_ and at_s > START_S + 300:
            set_ = True
            args = {"how": "at", "lat": spot.lat, "lon": spot.lon, "rode_m": 30.0, "depth_m": 6.0}
            effects += engine.handle(Command(at_s, number=1, verb="anchor", args=args))
        effects += engine.handle(Tick(at_s))
        store.beat(at_s)
        before = store._commits
        store.commit(effects, at_s)
        commits += store._commits - before
    return commits


def device_bytes(folder: Path) -> int | None:
    """Bytes that the folder's own block device was given; None where it shares one."""
    number = folder.stat().st_dev
    place = Path(f"/sys/dev/block/{os.major(number)}:{os.minor(number)}/stat")
    if not place.exists() or "loop" not in place.resolve().as_posix():
        return None
    os.sync()
    return int(place.read_text().split()[6]) * 512


def process_bytes() -> int:
    rows = dict(r.split(": ") for r in Path("/proc/self/io").read_text().splitlines())
    return int(rows["write_bytes"])


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("folder", type=Path)
    asked.add_argument("--hours", type=float, default=24.0)
    asked.add_argument("--rule", choices=sorted(DRAGS), default="drag")
    args = asked.parse_args()
    memory = Path(tempfile.mkdtemp(dir="/dev/shm"))
    store = Store.open(args.folder / "shipkeeper.db", memory)
    before, device = process_bytes(), device_bytes(args.folder)
    began = time.monotonic()
    commits = play(store, args.hours, args.rule)
    took_s = time.monotonic() - began
    wrote = process_bytes() - before
    print(f"{args.hours:g} h of the rule '{args.rule}' in {took_s:.0f} s: {commits} commits")
    print(f"this process wrote {wrote / 1e6:.3f} MB")
    if device is not None:
        after = device_bytes(args.folder)
        assert after is not None
        print(f"the device was given {(after - device) / 1e6:.3f} MB")
    store.close()
    shutil.rmtree(memory)


if __name__ == "__main__":
    main()
