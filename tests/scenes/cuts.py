"""Every input cut, at every state of every kind of alert: nothing lost, cleared or doubled.

    python -m tests.scenes.cuts [WORD]

One boat at anchor with four wires and a float switch. For each kind of rule an alert is brought
into each state that it can have, then one thing that the watch hears is taken away for 100 s and
given back; at last what was wrong is mended, and the alert must end as its state demands. All by
the engine alone, on a simulated clock. WORD: only cases with it in their names. The whole takes
some minutes; a part of it, another one each time round the table, is test_cuts.py.
"""

from __future__ import annotations

import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

from demo import sentences
from demo.sentences import finish
from tests.scenes.sea import HERE, START_S, Sea, vdm

from shipkeeper.words.alert import AlertRecord, State
from shipkeeper.words.effects import Reply
from shipkeeper.words.events import Command, ContactNews, InputNews, Tick
from shipkeeper.words.geo import LatLon, offset, range_bearing

CUT_S, BACK_S, MENDED_S = 100, 46, 200
STEP_S = 2
ORDERS = """
[[input]]
name = "deck"
udp = "127.0.0.1:10112"
expect = ["heading", "depth", "wind"]

[[input]]
name = "transponder"
udp = "127.0.0.1:10114"
expect = ["ais"]

[[input]]
name = "radar"
udp = "127.0.0.1:10113"
expect = ["radar"]

[drag]
radius = "45 m"
confirm = "6 s"
<drag>
[[zone]]
name = "guard"
around = [57.12, -5.2]
ring = { to = "500 m" }
accept_present = false
confirm = "6 s"
<zone>
[[zone]]
name = "home"
around = "anchor"
ring = { to = "80 m" }
subject = "own ship"
alarm_on = "leaving"
<home>
[[proximity]]
name = "close"
range = "600 m"
watches = ["anchored"]
<proximity>
[[depth]]
name = "shoal"
shallower_than = "2.5 m"
reference = "waterline"
forecast = "0 s"
<depth>
[[wind]]
name = "blow"
stronger_than = "25 kn"
mean = "10 s"
clear = "30 s"
<wind>
[[sensor]]
name = "battery"
measures = "BATT"
below = "12.1 V"
confirm = "6 s"
clear = "30 s"
<sensor>
[[contact]]
name = "float"
line = 22
<contact>
"""
ZONE = LatLon(57.12, -5.2)
WIRES = ("boat", "deck", "transponder", "radar")


class World(Sea):
    """What the wires say, and what is cut."""

    def __init__(self, folder: Path, kind: Kind, *, latch: bool) -> None:
        text = ORDERS
        for table in ("drag", "zone", "home", "proximity", "depth", "wind", "sensor", "contact"):
            text = text.replace(
                f"<{table}>", "latch = true" if latch and table == kind.table else ""
            )
        super().__init__(folder, text)
        self.kind = kind
        self.wrong = False  # whether what the kind watches for is the case
        self.cut: frozenset[str] = frozenset()
        self.down: str | None = None
        self.echo_at = offset(ZONE, 0.0, 660.0)
        for wire in WIRES:
            self.handle(InputNews(START_S, wire, True))
        self.tell_contact()
        self.go(30)
        self.order("anchor", how="at", lat=HERE.lat, lon=HERE.lon)
        self.go(40)

    def order(self, verb: str, where: str = "aboard", **args: Any) -> Reply:
        self._number += 1
        command = Command(
            START_S + self.now_s, self._number, verb, args, who="test", where=where,  # type: ignore[arg-type]  # a Literal as text
            through="command line",
        )  # fmt: skip
        (reply,) = (e for e in self.handle(command) if isinstance(e, Reply))
        return reply

    def tell_contact(self) -> None:
        closed = None if {"contact", "all"} & self.cut else self.is_so("contact")
        self.handle(ContactNews(START_S + self.now_s, "float", closed))

    def is_so(self, name: str) -> bool:
        return self.wrong and self.kind.name == name

    def set(self, *, wrong: bool | None = None, cut: tuple[str, ...] | None = None) -> None:
        """Something changes in the world, or in what is heard of it."""
        if wrong is not None:
            self.wrong = wrong
        if cut is not None:
            self.cut = frozenset(cut)
        down = next((c.removeprefix("port ") for c in self.cut if c.startswith("port ")), None)
        for wire, up in ((self.down, True), (down, False)):
            if wire is not None and down != self.down:
                self.handle(InputNews(START_S + self.now_s, wire, up, "" if up else "unplugged"))
        self.down = down
        self.tell_contact()

    def go(self, seconds: float) -> None:
        end_s = self.now_s + seconds
        while self.now_s < end_s:
            self.now_s += STEP_S
            for what, wire, lines in self.said():
                if not {what, f"port {wire}", "all"} & self.cut:
                    self.hear(*lines, wire=wire)
            self.handle(Tick(START_S + self.now_s))

    def said(self) -> Iterator[tuple[str, str, list[str]]]:
        """(what, wire, sentences) of this moment."""
        utc_s, turn = START_S + self.now_s, self.now_s // STEP_S
        at = offset(HERE, 90.0, {"drag": 60.0, "home": 120.0}.get(self.kind.name, 5.0)
                    if self.wrong else 5.0)  # fmt: skip
        fix = sentences.rmc(utc_s, at.lat, at.lon, 0.1, 90.0)
        if "no fix" in self.cut:
            fix = sentences.rmc(utc_s, None, None, None, None)
        yield "position", "boat", [fix]
        yield "heading", "deck", [sentences.hdt(40.0 + turn % 4)]
        yield "depth", "deck", [sentences.dpt(1.2 if self.is_so("depth") else 5.4, 0.6)]
        wind_kn = 32.0 if self.is_so("wind") else 8.0
        yield "wind", "deck", [sentences.mwv(10.0 + turn % 5, wind_kn * sentences.KNOT_MS, "R")]
        yield "sensor", "deck", [finish(f"IIXDR,U,{11.5 if self.is_so('sensor') else 12.6},V,BATT")]
        ship = offset(HERE, 60.0, 550.0 if self.is_so("proximity") else 4000.0)
        ship = ZONE if self.is_so("zone") else ship
        said = sentences.ais_position(299000201, ship.lat, ship.lon, 1.0, 150.0)
        said += sentences.ais_position(299000100, at.lat, at.lon, 0.0, 0.0, own=True)
        if self.is_so("distress"):
            data = {"msg_type": 1, "mmsi": "970299001", "lat": 57.11, "lon": -5.2, "status": 14}
            said += vdm(dict(data))
        yield "ais", "transponder", said
        aim = offset(ZONE, 0.0, 440.0 if self.is_so("radar") else 660.0)
        way_m, way = range_bearing(self.echo_at, aim)
        self.echo_at = offset(self.echo_at, way, min(way_m, 15.0 * STEP_S))  # an echo leaps not
        off_m, bearing = range_bearing(at, self.echo_at)
        echo = f"RATTM,07,{off_m / 1852:.3f},{bearing:.1f},T,0.5,10.0,T,,,N,,T,,,A"
        yield "radar", "radar", [finish(echo)]

    @property
    def alert(self) -> AlertRecord | None:
        """The one that this is about."""
        found = [r for r in self.engine.records() if r.id.startswith(self.kind.alert)]
        found = [
            r
            for r in found
            if r.state is not State.NORMAL or r.announcement == "pending" or r.id == self.kind.alert
        ]
        return found[0] if found else None

    def must(self, *states: State) -> AlertRecord:
        record = self.alert
        assert record is not None and record.state in states, str(record and record.state)
        return record


class Kind(NamedTuple):
    name: str
    table: str
    alert: str  # its id, or how that begins
    answered: State = State.ACKNOWLEDGED  # what an acknowledgement makes of it
    ends: bool = True  # it can be over by itself


KINDS = (
    Kind("drag", "drag", "drag"),
    Kind("home", "home", "home", answered=State.NORMAL),
    Kind("zone", "zone", "guard:299000201"),
    Kind("radar", "zone", "guard:radar"),
    Kind("proximity", "proximity", "close:299000201"),
    Kind("depth", "depth", "shoal"),
    Kind("wind", "wind", "blow"),
    Kind("sensor", "sensor", "battery"),
    Kind("contact", "contact", "float"),
    Kind("distress", "distress", "distress:970299001", ends=False),
)
CUTS = ("position", "no fix", "heading", "depth", "wind", "sensor", "ais", "radar", "contact",
        *(f"port {wire}" for wire in WIRES), "all")  # fmt: skip

# What must be told of the cut itself, once, and nothing else.
TOLD = {
    "position": {"feed:boat"}, "no fix": {"feed:boat"}, "heading": {"feed:deck"},
    "depth": {"feed:deck"}, "wind": {"feed:deck"}, "sensor": {"feed:deck"},
    "ais": {"feed:transponder"}, "radar": {"feed:radar"}, "contact": {"feed:unserved"},
    **{f"port {wire}": {f"feed:{wire}"} for wire in WIRES},
    "all": {f"feed:{wire}" for wire in WIRES} | {"feed:unserved"},
}  # fmt: skip

UNACK, ACK, SILENCED = State.UNACKNOWLEDGED, State.ACKNOWLEDGED, State.SILENCED


class NotSo(Exception):
    """This kind has no such state."""


def _raised(world: World) -> AlertRecord:
    world.set(wrong=True)
    for _ in range(60):
        world.go(STEP_S)
        if world.alert is not None and world.alert.state is UNACK:
            return world.alert
    raise AssertionError(f"{world.kind.name} was never raised: {world.alert}")


def _pending(world: World) -> None:
    """Some kinds have no on-delay: what is urgent, and own ship's way over a line."""
    world.set(wrong=True)
    for _ in range(20):
        world.go(STEP_S)
        if world.alert is not None and world.alert.announcement == "pending":
            return
        if world.alert is not None and world.alert.state is UNACK:
            raise NotSo
    raise AssertionError("neither pending nor raised")


def _silenced(world: World) -> None:
    assert world.order("silence", id=_raised(world).id).code == 0


def _acknowledged(world: World) -> None:
    assert world.order("ack", id=_raised(world).id).code == 0


def _ashore(world: World) -> None:
    assert world.order("ack", where="ashore", id=_raised(world).id).code == 1


def _escalated(world: World) -> None:
    _raised(world)
    world.go(150)


def _shelved(world: World) -> None:
    assert world.order("shelve", id=_raised(world).id, for_s=1800.0, why="known").code == 0


def _out_of_service(world: World) -> None:
    slug = _raised(world).id.partition(":")[0]
    reply = world.order("out-of-service", id=slug, why="being mended")
    assert reply.code == 0, reply.text


def _over(world: World) -> None:
    """That a beacon is not heard any more is no end of its call."""
    if not world.kind.ends:
        raise NotSo
    _raised(world)
    world.set(wrong=False)
    world.go(140)


def _over_acknowledged(world: World) -> None:
    _over(world)
    record = world.alert
    assert record is not None
    assert world.order("ack", id=record.id).code == 0


def _again(world: World) -> None:
    """The second occurrence, unanswered."""
    if not world.kind.ends:
        raise NotSo
    _acknowledged(world)
    world.set(wrong=False)
    world.go(140)
    _raised(world)


class Stage(NamedTuple):
    name: str
    prepare: Callable[[World], object]
    states: tuple[State, ...]  # that it may be in from then on, while the world stays as it is
    mended: tuple[State, ...]  # and at the end, when what was wrong is mended
    latch: bool = False


GONE = (State.NORMAL,)
STAGES = (
    Stage("pending", _pending, (UNACK,), (State.RECTIFIED,)),
    Stage("raised", _raised, (UNACK,), (State.RECTIFIED,)),
    Stage("silenced", _silenced, (SILENCED, UNACK), (State.RECTIFIED,)),
    Stage("acknowledged", _acknowledged, (ACK,), GONE),
    Stage("answered from ashore", _ashore, (State.TRANSFERRED,), (State.RECTIFIED,)),
    Stage("escalated", _escalated, (UNACK,), (State.RECTIFIED,)),
    Stage("shelved", _shelved, (State.SHELVED,), (State.SHELVED, *GONE)),
    Stage("out of service", _out_of_service, (State.OUT_OF_SERVICE,),
          (State.OUT_OF_SERVICE, *GONE)),
    Stage("over, unseen", _over, (State.RECTIFIED,), (State.RECTIFIED,)),
    Stage("again", _again, (UNACK,), (State.RECTIFIED,)),
    Stage("latched", _over, (State.LATCHED,), (State.LATCHED,), latch=True),
    Stage("latched, seen", _over_acknowledged, (State.LATCHED_ACKNOWLEDGED,),
          (State.LATCHED_ACKNOWLEDGED,), latch=True),
)  # fmt: skip


def cases() -> list[tuple[Kind, Stage, str]]:
    return [(kind, stage, cut) for kind in KINDS for stage in STAGES for cut in CUTS]


def play(kind: Kind, stage: Stage, cut: str, folder: Path) -> None:
    """One case; AssertionError with what went wrong."""
    world = World(folder, kind, latch=stage.latch)
    stage.prepare(world)
    if stage.name == "acknowledged":
        spent = (State.NORMAL, State.UNKNOWN) if kind.answered is State.NORMAL else ()
        stage = stage._replace(states=(kind.answered, *spent))
    if kind.name == "radar" and cut in ("radar", "all"):
        # A radar with one echo that says nothing: is the radar dead, or the target lost? For a
        # minute nobody can tell, and a target that fell silent is told again, also when seen.
        stage = stage._replace(
            states=(*stage.states, UNACK), mended=(*stage.mended, State.RECTIFIED)
        )
    pending = stage.name == "pending"
    was = world.alert
    if not pending:
        was = world.must(*stage.states)
    begun, first = len(world.lines), was.occurrence if was is not None else 0
    world.set(cut=(cut,))
    for seconds, then in ((CUT_S, None), (BACK_S, ())):
        if then is not None:
            world.set(cut=then)
        for _ in range(0, seconds, STEP_S):
            world.go(STEP_S)
            if not pending:
                assert world.must(*stage.states).occurrence == first
        if pending and then is not None:
            assert world.must(*stage.states).occurrence == first + 1
    lines = [line.transition for line in world.lines[begun:]]
    mine = [t for t in lines if was is not None and t.alert == was.id]
    assert all(t.to in stage.states for t in mine if not pending), mine
    raises = Counter(
        t.alert for t in lines
        if t.reason == "condition" and t.to in (UNACK, State.ACTIVE)
    )  # fmt: skip
    assert all(count == 1 for count in raises.values()), raises
    told = {a for a in raises if a.startswith("feed:")}
    assert told == TOLD[cut], told
    others = raises.keys() - told
    assert not {a for a in others if not (pending and a.startswith(kind.alert))}, raises
    world.set(wrong=False)
    world.go(MENDED_S)
    record = world.alert
    ends = stage.mended if kind.ends else stage.states
    assert (State.NORMAL if record is None else record.state) in ends, record and record.state
    left = {r.id: r.state for r in world.standing().values() if r.kind == "feed"}
    assert set(left.values()) <= {State.RECTIFIED}, left


def main(word: str) -> int:
    wrong = done = 0
    for kind, stage, cut in cases():
        name = f"{kind.name}, {stage.name}, cut: {cut}"
        if word not in name:
            continue
        done += 1
        with tempfile.TemporaryDirectory() as folder:
            try:
                play(kind, stage, cut, Path(folder))
            except NotSo:
                print(f"none  {name}")
            except AssertionError as error:
                wrong += 1
                line = traceback.extract_tb(error.__traceback__)[-1].line
                print(f"WRONG {name}: {line}: {str(error)[:200]}")
    print(f"{done} cases, {wrong} wrong")
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1] if len(sys.argv) > 1 else ""))
