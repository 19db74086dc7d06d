"""app/deliver.py: the sound waits for nothing. By cause, not by the clock: while the store is held
and the messages cannot go, a real sounder has begun the alarm."""

from __future__ import annotations

import threading
from pathlib import Path

from tests.peers.messages import record, show, wanted

from shipkeeper.app.clock import Clock
from shipkeeper.app.deliver import Deliver
from shipkeeper.app.health import Health
from shipkeeper.app.level import Presented
from shipkeeper.outlets.sounder import Sounder
from shipkeeper.words.effects import Effect, Keep, Send
from shipkeeper.words.events import Tick

from .outlets import NIGHT_S, message
from .test_keeper import House


class Ear:
    """A voice that says when it sounds."""

    def __init__(self) -> None:
        self.sounds = threading.Event()

    def tone(self, hz: int) -> None:
        if hz:
            self.sounds.set()

    def pattern(self, name: str, text: str) -> None:
        return None

    def close(self) -> None:
        return None


def test_04_it_sounds_while_store_and_network_are_held(tmp_path: Path) -> None:
    """The row is not on the disk and no message has gone out, and yet it sounds."""
    house = House(tmp_path)
    ear = Ear()
    sounder = Sounder("buzzer", ear)
    presented = Presented()
    deliver = Deliver(
        Clock(starts_s=NIGHT_S), presented, house.keeper, house.replies, None, Health(), dict
    )
    other = house.blocked()
    try:
        sounder.show(wanted("silence"), show())
        kept: list[Effect] = [Keep(alert=record()), Send(message=message(1))]
        deliver.after(Tick(NIGHT_S), [wanted("alarm", fresh=2), *kept, show()])
        seen = presented.newer(0, 0.0)
        assert seen is not None, "presented before the store was asked"
        sounder.show(seen[1], seen[2])
        assert ear.sounds.wait(30.0)
        assert house.offered == []
        house.keeper.look()
        assert house.store is not None and house.store.pending("phone") == []
    finally:
        other.rollback()
        sounder.close()
        house.end()
    assert house.offered == ["m1"], "and then it goes out"
