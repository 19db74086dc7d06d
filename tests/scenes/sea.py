"""A sea to put ships on: sentences go into the real engine, effects come out and are kept.

The engine is driven as the daemon drives it: by lines with stamps and by ticks. `crash` is a
power cut: a new engine takes up what the store would have held.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

from demo import sentences
from demo.sentences import finish
from pyais.encode import encode_dict

from shipkeeper.app.kinds import KINDS
from shipkeeper.engine import Engine
from shipkeeper.orders import load
from shipkeeper.words.alert import AlertRecord, State
from shipkeeper.words.effects import (
    Effect,
    Keep,
    Message,
    Note,
    Record,
    Remember,
    Reply,
    Send,
    Wanted,
)
from shipkeeper.words.events import ClockNews, Command, Event, InputNews, Line, Tick
from shipkeeper.words.geo import LatLon, offset
from shipkeeper.words.remembered import Remembered
from shipkeeper.words.units import MS_PER_KN

START_S = 1_781_213_400.0  # an invented night
HERE = LatLon(57.1, -5.2)
BOAT = """
[vessel]
name = "Curlew"
mmsi = 299000100
length = "11.4 m"
beam = "3.6 m"
antenna = { from_bow = "8.9 m", from_port = "1.8 m" }

[[input]]
name = "boat"
udp = "127.0.0.1:10110"
expect = ["position"]

[[input]]
name = "ais"
udp = "127.0.0.1:10111"

[[outlet]]
name = "buzzer"
terminal = {}

[[outlet]]
name = "skipper"
push = { urls = "/nowhere" }
from_priority = "warning"
"""


class Sea:
    """See the module's first lines. Times are seconds after the start."""

    def __init__(self, folder: Path, orders: str, at: LatLon = HERE) -> None:
        path = folder / "orders.toml"
        path.write_text(BOAT + orders)
        self.orders = load(path, KINDS)
        self.own: LatLon | None = at
        self.heading: float | None = None
        self.engine = Engine(self.orders, START_S)
        self.now_s = 0.0
        self.lines: list[Record] = []
        self.sends: list[Message] = []
        self.sounds: list[Wanted] = []
        self.notes: list[Note] = []
        self._kept: dict[str, AlertRecord] = {}
        self._state: dict[str, bytes] = {}
        self._number = 0
        self.handle(ClockNews(START_S, START_S, "synchronised"))
        self.handle(InputNews(START_S, "boat", True))
        self.handle(InputNews(START_S, "ais", True))

    # -- time and wires ------------------------------------------------------------------------

    def handle(self, event: Event) -> list[Effect]:
        effects = self.engine.handle(event)
        for effect in effects:
            if isinstance(effect, Record):
                self.lines.append(effect)
                self._kept[effect.alert.id] = effect.alert
            elif isinstance(effect, Keep):
                self._kept[effect.alert.id] = effect.alert
            elif isinstance(effect, Send):
                self.sends.append(effect.message)
            elif isinstance(effect, Wanted):
                self.sounds.append(effect)
            elif isinstance(effect, Note):
                self.notes.append(effect)
            elif isinstance(effect, Remember) and effect.value is not None:
                self._state[effect.key] = effect.value
        return effects

    def hear(self, *said: str, wire: str = "ais") -> None:
        for text in said:
            self.handle(Line(START_S + self.now_s, wire, text))

    def run(self, seconds: float, step: float = 1.0) -> None:
        """Time passes, with own receivers sending once a second."""
        end = round(self.now_s + seconds, 3)
        while self.now_s < end:
            self.now_s = round(min(end, self.now_s + step), 3)
            utc = START_S + self.now_s
            if self.own is not None:
                self.hear(sentences.rmc(utc, self.own.lat, self.own.lon, 0.0, None), wire="boat")
            if self.heading is not None:
                self.hear(sentences.hdt(self.heading), wire="boat")
            self.handle(Tick(utc))

    def crash(self, gap_s: float = 5.0) -> None:
        """The power goes, and comes back after `gap_s`."""
        self.now_s += gap_s
        alerts = tuple(r for r in self._kept.values() if r.state is not State.NORMAL or r.spent)
        remembered = Remembered(
            alerts=alerts,
            state=dict(self._state),
            last_alive_s=START_S + self.now_s - gap_s,
            next_number=1 + max((r.number for r in self._kept.values()), default=0),
        )
        self.engine = Engine(self.orders, START_S + self.now_s)
        self.engine.restore(remembered, gap_s)

    def obey(self, verb: str, **args: Any) -> Reply:
        self._number += 1
        command = Command(START_S + self.now_s, self._number, verb, args, who="test")
        (reply,) = (e for e in self.handle(command) if isinstance(e, Reply))
        return reply

    def anchor(self) -> Reply:
        return self.obey("anchor", how="at", lat=HERE.lat, lon=HERE.lon)

    # -- ships ---------------------------------------------------------------------------------

    def ship(
        self,
        number: int,
        bearing: float,
        range_m: float,
        *,
        kn: float = 0.0,
        course: float = 0.0,
        heading: float | None = None,
        turn: float | None = None,
        status: int = 0,
        kind: int = 1,
        mmsi: int | None = None,
    ) -> None:
        """One position report of a ship, seen from HERE."""
        place = offset(HERE, bearing, range_m)
        self.ship_at(number, place, kn=kn, course=course, heading=heading, turn=turn,
                     status=status, kind=kind, mmsi=mmsi)  # fmt: skip

    def ship_at(
        self, number: int, place: LatLon, *, kn: float = 0.0, course: float = 0.0,
        heading: float | None = None, turn: float | None = None, status: int = 0, kind: int = 1,
        mmsi: int | None = None,
    ) -> None:  # fmt: skip
        data: dict[str, Any] = {
            "msg_type": kind,
            "mmsi": f"{mmsi or 299000000 + number:09d}",
            "lat": place.lat,
            "lon": place.lon,
            "speed": round(kn, 1),
            "course": round(course % 360, 1),
            "heading": 511 if heading is None else round(heading) % 360,
            "second": int(START_S + self.now_s) % 60,
        }
        if kind == 1:
            data["status"] = status
            data["turn"] = -128.0 if turn is None else turn
        else:
            data["cs"] = 1
        self.hear(*vdm(data))

    def named(self, number: int, name: str, size: tuple[int, int, int, int] = (60, 20, 8, 8),
              ship_type: int = 70) -> None:  # fmt: skip
        self.hear(*sentences.ais_static(299000000 + number, name, ship_type, size))

    def text(self, mmsi: int, words: str) -> None:
        """A safety text (type 14)."""
        self.hear(*vdm({"msg_type": 14, "mmsi": f"{mmsi:09d}", "text": words}))

    def echo(
        self, number: int, bearing: float, range_m: float, *, kn: float = 0.0,
        course: float = 0.0, status: str = "T", angles: str = "T",
    ) -> None:  # fmt: skip
        """A TTM with true bearing and course, or both from the bow ('R')."""
        body = (
            f"RATTM,{number:02d},{range_m / 1852:.3f},{bearing % 360:.1f},{angles},{kn:.1f},"
            f"{course % 360:.1f},{angles},,,N,,{status},,,A"
        )
        self.hear(finish(body), wire="boat")

    # -- what came of it -----------------------------------------------------------------------

    def raised(self, rule: str = "") -> list[str]:
        """Ids of alerts that were raised, in order."""
        return [
            line.transition.alert
            for line in self.lines
            if line.transition.to in (State.UNACKNOWLEDGED, State.ACTIVE)
            and line.transition.reason == "condition"
            and rule in (line.transition.rule, "")
        ]

    def standing(self) -> dict[str, AlertRecord]:
        return {r.id: r for r in self.engine.records() if r.state is not State.NORMAL}

    def words(self, alert: str) -> str:
        return self.standing()[alert].text


def vdm(data: dict[str, Any]) -> list[str]:
    lines = encode_dict(data, talker_id="AI", sentence_type="VDM", radio_channel="A", seq_id=1)
    return [str(line) for line in lines]


def ms(knots: float) -> float:
    return knots * MS_PER_KN
