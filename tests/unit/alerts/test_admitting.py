"""The gate, through the real engine: who may say what through which wire, once and in time."""

from __future__ import annotations

from typing import Any

import pytest

from shipkeeper.engine import Engine
from shipkeeper.words.effects import Note, Remember, Reply
from shipkeeper.words.events import ClockNews, Command
from shipkeeper.words.orders import Orders, Vessel
from shipkeeper.words.remembered import Remembered

START_S = 1_781_234_000.0


def engine() -> Engine:
    made = Engine(
        Orders(vessel=Vessel(name="Curlew", length_m=11.4, beam_m=3.6), rules=()), START_S
    )
    made.handle(ClockNews(START_S, START_S, "synchronised"))
    return made


def say(on: Engine, verb: str, args: dict[str, Any] | None = None, **more: Any) -> Reply:
    at_s = more.pop("at_s", START_S + 1.0)
    effects = on.handle(Command(at_s, number=1, verb=verb, args=args or {}, **more))
    return next(e for e in effects if isinstance(e, Reply))


def signed(counter: int | None, sent_s: float | None = START_S, **more: Any) -> dict[str, Any]:
    return {"through": "mqtt", "key": "ann", "counter": counter, "sent_s": sent_s, **more}


def test_a_signed_command_is_taken_once() -> None:
    """The same counter again, and any lower one, is a replay."""
    on = engine()
    assert say(on, "silence", **signed(5)).code == 0
    for counter in (5, 4, 1, 0, -1):
        reply = say(on, "silence", **signed(counter))
        assert (reply.code, "replayed" in reply.text) == (2, True)
    assert say(on, "silence", **signed(6)).code == 0
    assert say(on, "silence", **signed(1, key="bob")).code == 0, "each key counts for itself"


def test_a_replay_is_refused_after_a_restart() -> None:
    """The counter is kept with the command that it came with."""
    on = engine()
    command = Command(START_S + 1, number=1, verb="silence", **signed(5))
    kept = [e for e in on.handle(command) if isinstance(e, Remember) and e.key == "gate"]
    later = engine()
    later.restore(Remembered(state={"gate": kept[-1].value or b""}), 5.0)
    assert say(later, "silence", **signed(5)).code == 2
    assert say(later, "silence", **signed(6)).code == 0


@pytest.mark.parametrize(("off_s", "code"), [(-121, 2), (-119, 0), (119, 0), (121, 2)])
def test_what_was_sent_long_ago_is_refused(off_s: float, code: int) -> None:
    on = engine()
    assert say(on, "silence", **signed(1, START_S + 1.0 + off_s)).code == code
    assert say(on, "silence", **signed(1)).code == 2, "and its counter is used up"


@pytest.mark.parametrize("sent_s", [float("nan"), float("inf")])
def test_a_time_that_is_none_is_refused(sent_s: float) -> None:
    assert say(engine(), "silence", **signed(1, sent_s)).code == 2


def test_a_boat_without_the_time_takes_what_is_new() -> None:
    """No battery clock and no fix yet: the counter alone decides."""
    on = Engine(Orders(vessel=Vessel(name="Curlew", length_m=11.4, beam_m=3.6), rules=()), START_S)
    on.handle(ClockNews(START_S, START_S, "none"))
    assert say(on, "silence", **signed(1, START_S + 1e6)).code == 0
    assert say(on, "silence", **signed(1, START_S + 1e6)).code == 2


@pytest.mark.parametrize("missing", [{"key": ""}, {"counter": None}, {"sent_s": None}])
def test_mqtt_takes_only_what_is_signed(missing: dict[str, Any]) -> None:
    reply = say(engine(), "silence", **(signed(1) | missing))
    assert (reply.code, "signed" in reply.text) == (2, True)


@pytest.mark.parametrize("through", ["mqtt", "nmea", "push", "button", "pigeon"])
@pytest.mark.parametrize("verb", ["off", "crew", "anchor", "underway", "shelve", "out-of-service"])
def test_nothing_but_a_hand_aboard_disarms(through: str, verb: str) -> None:
    on = engine()
    more = signed(1) | {"through": through} if through == "mqtt" else {"through": through}
    assert say(on, verb, {"where": "ashore"}, **more).code == 2
    assert on.watch.watch == "off"


def test_from_afar_an_acknowledgement_names_alert_and_occurrence() -> None:
    on = engine()
    assert "which alert" in say(on, "ack", **signed(1)).text
    assert "which occurrence" in say(on, "ack", {"id": "drag"}, **signed(2)).text
    assert "which" not in say(on, "ack", {"id": "drag", "occurrence": 1}, **signed(3)).text


def test_a_refusal_is_in_the_journal() -> None:
    on = engine()
    effects = on.handle(Command(START_S + 1, number=1, verb="off", who="Bob", **signed(1)))
    note = next(e for e in effects if isinstance(e, Note) and e.kind == "command")
    assert note.data["code"] == 2
    assert (note.data["who"], note.data["through"]) == ("Bob", "mqtt")
