"""How the cost of a sentence and of a second grows with ships and with zones.

    python -m tests.bench.growth [--rounds 7] [--sentences 1000] [--json]

The whole engine at anchor: AIS reports of known ships within one grid second (what a sentence
costs), and the grid second itself (the tick). 200, 2,000 and 20,000 ships with 5 zones (the bound
of 2,000 is lifted for this), then 5, 50 and 500 zones with 2,000 ships; all in turn. Ships lie
over 40 miles square, zones are rings of usual sizes about the ship and polygons. Goal: a sentence
flat within 1.3 against the smallest of its row, ticks no worse than linear.
"""

from __future__ import annotations

import random
import statistics
from collections.abc import Callable, Sequence
from typing import Any

from demo import night, sentences
from tests.bench.full_load import Ship, fleet
from tests.bench.measuring import Figures, asked, processor_s, tell

from shipkeeper.engine import Engine
from shipkeeper.rules.zone import ZoneOrders
from shipkeeper.rules.zone_orders import Ring
from shipkeeper.words.events import Command, Line, Tick
from shipkeeper.words.orders import Orders, RuleOrders, Vessel
from shipkeeper.words.units import M_PER_NM

TARGETS = (200, 2_000, 20_000)
ZONES = (5, 50, 500)
VESSEL = Vessel(name="Marren", length_m=11.4, beam_m=3.6)


def zones(count: int) -> list[RuleOrders]:
    rng = random.Random(7)
    made: list[RuleOrders] = []
    for number in range(count):
        if number % 5:
            ring = Ring(to_m=rng.uniform(0.05, 0.5) * M_PER_NM)
            made.append(ZoneOrders(name=f"ring {number}", around="ship", ring=ring))
            continue
        lat = night.ANCHOR.lat + rng.uniform(-0.3, 0.3)
        lon = night.ANCHOR.lon + rng.uniform(-0.3, 0.3)
        corners = ((lat, lon), (lat + 0.01, lon), (lat + 0.01, lon + 0.02), (lat, lon + 0.02))
        made.append(ZoneOrders(name=f"area {number}", polygon=corners))
    return made


class Case:
    """One engine with so many ships and zones, at one second of its time."""

    def __init__(self, targets: int, count: int) -> None:
        self.targets, self.zones = targets, count
        self.ships = fleet(targets + targets // 50 + 50)[:targets]
        self.now_s = night.START
        self.sentence_us: list[float] = []
        self.tick_ms: list[float] = []
        orders = Orders(vessel=VESSEL, rules=tuple(zones(count)))
        self.engine = Engine(orders, self.now_s)
        self.engine.picture.targets.capacity = targets + 1000
        place = night.ANCHOR
        args: dict[str, Any] = {"how": "at", "lat": place.lat, "lon": place.lon}
        self.hear_own()
        self.engine.handle(Command(self.now_s, number=1, verb="anchor", args=args))
        self.hear(self.ships)
        self.second()

    def hear_own(self) -> None:
        place = night.ANCHOR
        fix = sentences.rmc(self.now_s, place.lat, place.lon, 0.0, None)
        self.engine.handle(Line(self.now_s, "boat", fix))

    def hear(self, ships: Sequence[Ship]) -> float:
        """Processor seconds for one report of each of these."""
        run_s = self.now_s - night.START
        lines = []
        for number, ship in enumerate(ships):
            place = ship.place(run_s)
            (text,) = sentences.ais_position(
                ship.mmsi, place.lat, place.lon, ship.speed_ms, ship.course_deg,
                class_b=ship.station == "B", second=(int(run_s) + number // len(self.ships)) % 60,
            )  # fmt: skip  # a later second: the same told again would be dropped at the door
            lines.append(Line(self.now_s + 0.5, "ais", text))
        handle = self.engine.handle

        def work() -> None:
            for line in lines:
                handle(line)

        return processor_s(work)

    def second(self) -> float:
        """Processor seconds of the next grid second."""
        self.now_s += 1.0
        return processor_s(lambda: self.engine.handle(Tick(self.now_s)))

    def turn(self, heard: int, rng: random.Random) -> None:
        self.hear_own()
        some: list[Ship] = []
        while len(some) < heard:
            some += rng.sample(self.ships, min(len(self.ships), heard - len(some)))
        self.sentence_us.append(1e6 * self.hear(some) / heard)
        self.tick_ms.append(1e3 * self.second())
        for _ in range(4):
            self.tick_ms.append(1e3 * self.second())


def measure(
    rounds: int, heard: int, targets: Sequence[int] = TARGETS, count: Sequence[int] = ZONES
) -> Figures:
    middle = targets[len(targets) // 2]
    by_targets = [Case(ships, count[0]) for ships in targets]
    by_zones = [by_targets[len(targets) // 2], *(Case(middle, n) for n in count[1:])]
    cases = [*by_targets, *by_zones[1:]]
    rng = random.Random(8)
    for number in range(rounds + 1):
        for case in cases:
            case.turn(heard, rng)
            if number == 0:
                case.sentence_us.clear()
                case.tick_ms.clear()
    found: Figures = {}
    for case in cases:
        name = f"{case.targets}_targets_{case.zones}_zones"
        found[f"{name}_us_a_sentence"] = statistics.median(case.sentence_us)
        found[f"{name}_ms_a_tick"] = statistics.median(case.tick_ms)
    found["sentence_growth_with_targets"] = _growth(by_targets)
    found["sentence_growth_with_zones"] = _growth(by_zones)
    found["sentence_growth_goal"] = 1.3
    found["tick_a_target_most_to_middle"] = _per(by_targets[-2:], lambda case: case.targets)
    found["tick_a_zone_most_to_middle"] = _per(by_zones[-2:], lambda case: case.zones)
    found["tick_linear_goal"] = 1.0
    return found


def _growth(row: Sequence[Case]) -> float:
    """The dearest sentence of the row to that of its first."""
    medians = [statistics.median(case.sentence_us) for case in row]
    return max(medians) / medians[0]


def _per(pair: Sequence[Case], size: Callable[[Case], int]) -> float:
    """Cost of a tick by size, the greater to the smaller: 1 is linear, less is better."""
    small, great = (statistics.median(case.tick_ms) / size(case) for case in pair)
    return great / small


if __name__ == "__main__":
    args = asked(__doc__, rounds=7, sentences=1000)
    tell(measure(args.rounds, args.sentences), args.json)
