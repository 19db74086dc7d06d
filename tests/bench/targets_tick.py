"""How long one second takes with 2,000 targets and 50 rules about them.

Run: python -m tests.bench.targets_tick [ticks]. Prints quickest, median and worst, once for the
rules alone with hundreds of ships raised, and twice for the whole engine: a quiet night in a
crowd (those inside are neighbours), and everybody raised. What must hold: a quiet second of
the whole engine, and one of the rules, in under 20 ms. The scene: ships spread over 40 miles
square as in a wide bay, a tenth of them within three miles, a third under way; rings, sectors
and polygons of usual sizes about ship, anchor and places, and two proximity rules.
"""

from __future__ import annotations

import random
import statistics
import sys
import time
from typing import Any

import msgspec

from shipkeeper.engine import Engine
from shipkeeper.picture.picture import Picture
from shipkeeper.picture.watch import AnchorMark, WatchSet
from shipkeeper.rules.proximity import ProximityOrders
from shipkeeper.rules.zone import ZoneOrders
from shipkeeper.rules.zone_orders import Ring, Sector
from shipkeeper.words.events import Tick
from shipkeeper.words.geo import LatLon, from_east_north
from shipkeeper.words.observations import AisReport, AisStatic, Heading, Position
from shipkeeper.words.orders import Orders, Vessel
from shipkeeper.words.units import M_PER_NM

HERE = LatLon(57.1, -5.2)
VESSEL = Vessel(name="Curlew", length_m=11.4, beam_m=3.6)
TARGETS, ZONES = 2000, 48


def zones(rng: random.Random) -> list[Any]:
    """48 zones and 2 proximity rules."""
    made: list[Any] = []
    for i in range(ZONES):
        size = rng.uniform(0.1, 1.5) * M_PER_NM
        name = f"zone {i}"
        if i % 4 == 0:
            orders = ZoneOrders(name=name, around="ship", ring=Ring(to_m=size))
        elif i % 4 == 1:
            left = rng.uniform(0, 360)
            sector = Sector(left=left, right=left + 90 - 360, to_m=2 * size, bearings="relative")
            orders = ZoneOrders(name=name, around="ship", sector=sector)
        elif i % 4 == 2:
            place = from_east_north(HERE, rng.uniform(-9e3, 9e3), rng.uniform(-9e3, 9e3))
            orders = ZoneOrders(name=name, around=(place.lat, place.lon), ring=Ring(to_m=size))
        else:
            lat = HERE.lat + rng.uniform(-0.1, 0.1)
            lon = HERE.lon + rng.uniform(-0.1, 0.1)
            corners = ((lat, lon), (lat + 0.02, lon), (lat + 0.02, lon + 0.04), (lat, lon + 0.04))
            orders = ZoneOrders(name=name, polygon=corners)
        made.append(orders.build(VESSEL))
    made.append(
        ProximityOrders(name="cpa", cpa_m=500.0, tcpa_s=900.0, within_m=8000.0).build(VESSEL)
    )
    made.append(ProximityOrders(name="close", range_m=50.0).build(VESSEL))
    return made


def fleet(scene: Picture, rng: random.Random, at_s: float) -> None:
    for i in range(TARGETS):
        spread = 3.0 if i % 10 == 0 else 20.0
        east, north = (rng.uniform(-spread, spread) * M_PER_NM for _ in range(2))
        place = from_east_north(HERE, east, north)
        speed = rng.uniform(1.0, 12.0) if i % 3 == 0 else 0.0
        course = rng.uniform(0.0, 360.0)
        mmsi = 299_000_000 + i
        scene.take(AisReport(mmsi, "A", place.lat, place.lon, speed, course, course), "ais", at_s)
        scene.take(AisStatic(mmsi, f"SHIP {i}", None, 70, 60.0, 40.0, 8.0, 8.0), "ais", at_s)


def run(ticks: int) -> list[float]:
    """Milliseconds of processor time of each tick: the sweep and every rule."""
    rng = random.Random(1)
    scene = Picture(VESSEL, {}, 0.0)
    scene.watch = WatchSet(
        watch="anchored", mark=AnchorMark(lat=HERE.lat, lon=HERE.lon, set_at_s=0.0)
    )
    fleet(scene, rng, 1.0)
    rules = zones(rng)
    open_keys: dict[int, set[str]] = {i: set() for i in range(len(rules))}
    took = []
    for tick in range(ticks):
        now_s = 2.0 + tick
        scene.take(Position(HERE.lat, HERE.lon), "gnss", now_s)
        scene.take(Heading(120.0), "gnss", now_s)
        begun = time.process_time()
        scene.targets.sweep(now_s)
        said = [rule.judge(scene, now_s, open_keys[i]) for i, rule in enumerate(rules)]
        took.append(1000.0 * (time.process_time() - begun))
        for i, judgement in enumerate(said):
            open_keys[i] = {v.subject.key for v in judgement.verdicts if v.holds}
    standing = sum(len(keys) for keys in open_keys.values())
    print(f"{TARGETS} targets, {len(rules)} rules, {standing} verdicts that hold")
    return took


def run_engine(ticks: int, neighbours: bool) -> list[float]:
    """The same through the whole engine: sweep, rules, alerts, what is to be shown and kept."""
    rng = random.Random(1)
    made = [rule.orders for rule in zones(rng)]
    orders = [
        msgspec.structs.replace(one, accept_present=neighbours)
        if isinstance(one, ZoneOrders)
        else one
        for one in made
    ]
    engine = Engine(Orders(vessel=VESSEL, rules=tuple(orders)), 0.0)
    scene = engine.picture
    fleet(scene, rng, 1.0)
    scene.watch = WatchSet(
        watch="anchored", mark=AnchorMark(lat=HERE.lat, lon=HERE.lon, set_at_s=0.0)
    )
    engine.board.set_watch("anchored", "aboard", 1.0)
    took = []
    for tick in range(ticks + 5):
        now_s = 2.0 + tick
        scene.take(Position(HERE.lat, HERE.lon), "gnss", now_s)
        scene.take(Heading(120.0), "gnss", now_s)
        begun = time.process_time()
        engine.handle(Tick(now_s + 0.5))
        took.append(1000.0 * (time.process_time() - begun))
    print(f"whole engine, {'neighbours' if neighbours else 'all news'}: "
          f"{len(engine.records())} alerts")  # fmt: skip
    return took[5:]  # without the seconds in which they are all raised


def told(took: list[float]) -> None:
    print(
        f"  quickest {min(took):.1f} ms, median {statistics.median(took):.1f} ms, "
        f"worst {max(took):.1f} ms of processor time; limit 20 ms"
    )


def main() -> None:
    ticks = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    told(run(ticks))
    told(run_engine(ticks, neighbours=True))
    told(run_engine(ticks, neighbours=False))


if __name__ == "__main__":
    main()
