"""Every input cut in turn, at every state of an alert: none is lost, none cleared, none doubled.

For each kind of rule its alert is raised by what comes in on wires, brought into each state that
it can stand in, then one wire (or all of them) falls silent for longer than the feed's patience
and comes back. Invariants 2 and 3 of the house, here by enumeration.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from demo import sentences

from shipkeeper.words.alert import State
from shipkeeper.words.events import ContactNews, Tick
from shipkeeper.words.geo import offset

from .sea import HERE, START_S, Sea

GAUGES = """
[[input]]
name = "gauges"
udp = "127.0.0.1:10112"

[feed]
indicate_after = "5 s"
alarm_after = "30 s"
"""
ORDERS = {
    "drag": '[drag]\nradius = "45 m"\nconfirm = "5 s"\n',
    "zone": '[[zone]]\nname = "zone"\naround = "anchor"\nring = { to = "400 m" }\n',
    "proximity": '[[proximity]]\nname = "close"\ncpa = "0.3 NM"\ntcpa = "12 min"\n'
    'within = "4 NM"\n',
    "depth": '[[depth]]\nname = "shoal"\nshallower_than = "3 m"\nreference = "transducer"\n',
    "wind": '[[wind]]\nname = "blow"\nstronger_than = "25 kn"\nmean = "10 s"\n',
    "sensor": '[[sensor]]\nname = "volts"\nmeasures = "HOUSE"\nbelow = "11 V"\n',
    "contact": '[[contact]]\nname = "bilge"\nline = 5\nwhen = "closed"\n',
    "distress": "",
}
# The wire without which the rule is blind. Silent ships are none: an empty bay is no fault, and a
# receiver is judged by its own reports (tests/faults/table.toml has its rows).
NEEDS = {"depth": "gauges", "wind": "gauges", "sensor": "gauges"}
CUTS = ("boat", "ais", "gauges", "all")
QUIET_S, BACK_S = 100, 40


class Wires(Sea):
    """Talks each second on every wire that is not cut."""

    def __init__(self, folder: Path, kind: str) -> None:
        super().__init__(folder, GAUGES + ORDERS[kind])
        self.kind, self.on = kind, False
        self.silent: frozenset[str] = frozenset()

    def second(self) -> None:
        self.now_s += 1.0
        utc, kind, on = START_S + self.now_s, self.kind, self.on
        if "boat" not in self.silent:
            place = offset(HERE, 90.0, 100.0 if kind == "drag" and on else 0.0)
            self.hear(sentences.rmc(utc, place.lat, place.lon, 0.0, None), wire="boat")
        if "gauges" not in self.silent:
            self.hear(
                sentences.dpt(1.0 if kind == "depth" and on else 9.0, 0.0),
                sentences.mwv(40.0, 20.0 if kind == "wind" and on else 4.0, "R"),
                sentences.finish(f"IIXDR,U,{10.0 if kind == 'sensor' and on else 12.6},V,HOUSE"),
                wire="gauges",
            )
        if self.now_s % 2 == 0 and "ais" not in self.silent:
            self._ships(on)
        self.handle(Tick(utc))

    def _ships(self, on: bool) -> None:
        self.ship(7, 200.0, 5000.0, kn=0.0)
        if self.kind == "zone":
            self.ship(1, 45.0, 300.0 if on else 900.0, kn=1.0, course=45.0)
        elif self.kind == "proximity":
            self.ship(1, 45.0, 1500.0 if on else 5000.0, kn=6.0 if on else 0.0, course=225.0)
        elif self.kind == "distress" and on:
            self.ship(1, 45.0, 900.0, mmsi=970299001, status=14)

    def for_s(self, seconds: int) -> None:
        for _ in range(seconds):
            self.second()

    def switch(self, on: bool) -> None:
        self.on = on
        if self.kind == "contact":
            self.handle(ContactNews(START_S + self.now_s, "bilge", on))

    def cut(self, wire: str) -> None:
        wires = ("boat", "ais", "gauges") if wire == "all" else (wire,)
        self.silent = frozenset(wires)
        if wire == "all" and self.kind == "contact":
            self.handle(ContactNews(START_S + self.now_s, "bilge", None))

    def mend(self) -> None:
        self.silent = frozenset()
        if self.kind == "contact":
            self.handle(ContactNews(START_S + self.now_s, "bilge", self.on))

    @property
    def alert(self) -> str:
        """The id of this kind's one alert, once it was raised."""
        (found,) = {line.transition.alert for line in self.lines
                    if line.transition.kind == self.kind and line.transition.reason == "condition"
                    and line.transition.to in (State.UNACKNOWLEDGED, State.ACTIVE)}  # fmt: skip
        return found


def silenced(sea: Wires) -> None:
    assert sea.obey("silence").code == 0


def acknowledged(sea: Wires) -> None:
    assert sea.obey("ack", id=sea.alert).code == 0


def taken(sea: Wires) -> None:
    assert sea.obey("transfer", id=sea.alert, to="ann").code == 0


def shelved(sea: Wires) -> None:
    assert sea.obey("shelve", id=sea.alert, for_s=600.0, why="mending").code == 0


def escalated(sea: Wires) -> None:
    sea.for_s(130)


def over(sea: Wires) -> None:
    """The condition has gone; nobody has answered yet (or it has closed by itself)."""
    sea.switch(False)
    sea.for_s(400)


STATES: dict[str, Callable[[Wires], None]] = {
    "unanswered": lambda sea: None,
    "silenced": silenced,
    "acknowledged": acknowledged,
    "taken": taken,
    "shelved": shelved,
    "escalated": escalated,
    "over": over,
}


@pytest.mark.parametrize("kind", ORDERS)
@pytest.mark.parametrize("state", STATES)
def test_cut_and_mended(kind: str, state: str, tmp_path: Path) -> None:
    for wire in CUTS:
        folder = tmp_path / wire
        folder.mkdir()
        sea = Wires(folder, kind)
        sea.for_s(8)
        assert sea.anchor().code in (0, 1)
        sea.for_s(15)
        assert sea.raised(ORDERS_NAME.get(kind, kind)) == []
        sea.switch(True)
        sea.for_s(80)
        alert = sea.alert
        STATES[state](sea)
        stood = sea.standing().get(alert)
        raises = sea.raised().count(alert)
        before = None if stood is None else (stood.number, stood.occurrence)
        lines = len(sea.lines)
        sea.cut(wire)
        sea.for_s(QUIET_S)
        told = [line.transition for line in sea.lines[lines:]]
        lost = sea.standing().get(alert)
        where = f"{kind}, {state}, {wire} cut"
        if before is not None and state != "over":
            assert lost is not None, f"{where}: lost"
            assert (lost.number, lost.occurrence) == before, f"{where}: another one"
            assert not any(t.alert == alert and t.to is State.NORMAL for t in told), where
        if before is None:
            assert lost is None or lost.state is State.UNKNOWN, f"{where}: raised by silence"
        if wire == "all" or wire == NEEDS.get(kind, "boat"):
            assert any(t.kind == "feed" for t in told), f"{where}: nobody is told of the silence"
        sea.mend()
        sea.for_s(BACK_S)
        after = sea.standing().get(alert)
        assert sea.raised().count(alert) == raises, f"{where}: doubled"
        if before is not None and state != "over":
            assert after is not None and (after.number, after.occurrence) == before, where
            assert not after.data_lost, f"{where}: still without data"


ORDERS_NAME = {"proximity": "close", "depth": "shoal", "wind": "blow", "sensor": "volts",
               "contact": "bilge"}  # fmt: skip
