"""What the engine does when it hears of its store: a new one gets all that stands; a watch that may
be forgotten is told by ear."""

from __future__ import annotations

from pathlib import Path

from shipkeeper.app.kinds import KINDS
from shipkeeper.engine import Engine
from shipkeeper.orders import read
from shipkeeper.store import Store
from shipkeeper.words.alert import Priority
from shipkeeper.words.effects import Wanted
from shipkeeper.words.events import Command, ContactNews, StoreNews, Tick
from shipkeeper.words.remembered import Remembered

NIGHT_S = 1_781_215_200.0
ORDERS = """
[vessel]
name = "Curlew"
length = "11.4 m"
beam = "3.6 m"

[[contact]]
name = "bilge float"
chip = "/dev/gpiochip0"
line = 22
confirm = "0 s"

[drag]
radius = "45 m"
"""


def started() -> Engine:
    orders, problems, _ = read(ORDERS, "orders.toml", KINDS)
    assert orders is not None, problems
    engine = Engine(orders, NIGHT_S)
    engine.restore(Remembered(), None)
    return engine


def test_a_new_store_gets_the_watch_and_what_stands(tmp_path: Path) -> None:
    """After 'mended' an empty store holds as much as the one before it did."""
    engine = started()
    where = {"how": "at", "lat": 57.1, "lon": -5.2}
    engine.handle(Command(NIGHT_S + 1, number=1, verb="anchor", args=where))
    engine.handle(ContactNews(NIGHT_S + 2, "bilge float", True))
    engine.handle(Tick(NIGHT_S + 5))
    kept = engine.handle(StoreNews(NIGHT_S + 6, True, "mended"))
    store = Store.open(tmp_path / "shipkeeper.db")
    store.commit(kept, NIGHT_S + 6)
    remembered = store.load()
    store.close()
    assert [record.id for record in remembered.alerts] == ["bilge-float"]
    again = started()
    again.restore(remembered, 1.0)
    assert again.watch.watch == "anchored" and again.watch.mark == engine.watch.mark


def test_a_watch_that_may_be_forgotten_is_told_by_ear() -> None:
    """Else a store that fails is a caution, without a sound."""
    for lost, pattern in ((False, "silence"), (True, "fault")):
        engine = started()
        effects = engine.handle(StoreNews(NIGHT_S + 1, False, "damaged", lost))
        effects += engine.handle(Tick(NIGHT_S + 3))
        (record,) = engine.records()
        assert record.priority is (Priority.WARNING if lost else Priority.CAUTION)
        sounds = [effect.pattern for effect in effects if isinstance(effect, Wanted)]
        assert (sounds or ["silence"])[-1] == pattern
