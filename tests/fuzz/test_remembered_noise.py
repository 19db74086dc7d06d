"""A store may hand back any bytes under the right names: the start must get over it."""

from __future__ import annotations

from pathlib import Path

from demo import night
from hypothesis import given
from hypothesis import strategies as st

from shipkeeper.app.kinds import KINDS
from shipkeeper.engine import Engine
from shipkeeper.orders import read
from shipkeeper.words.orders import Orders
from shipkeeper.words.remembered import Remembered

NOW_S = 1_781_230_000.0


def orders() -> Orders:
    text = (Path(night.__file__).parent / "orders.toml").read_text(encoding="utf-8")
    for mark, place in (("<boat>", "127.0.0.1:2"), ("<ais>", "/dev/null"), ("<push>", "/none"),
                        ("<syslog>", "/dev/log")):  # fmt: skip
        text = text.replace(mark, place)
    found, problems, _ = read(text, "orders.toml", KINDS)
    assert found is not None, problems
    return found


ORDERS = orders()
STATE = Engine(ORDERS, NOW_S).memory() | {"board": b"{}"}


@given(st.data())
def test_noise_in_what_was_remembered_stops_no_start(data: st.DataObject) -> None:
    """Any of it cut, flipped or replaced: the engine starts and judges."""
    state = dict(STATE)
    for key in data.draw(st.sets(st.sampled_from(sorted(state)), min_size=1)):
        raw = bytearray(state[key])
        if raw and data.draw(st.booleans()):
            at = data.draw(st.integers(0, len(raw) - 1))
            raw[at] = data.draw(st.integers(0, 255))
        else:
            raw = bytearray(data.draw(st.binary(max_size=40)))
        state[key] = bytes(raw)
    engine = Engine(ORDERS, NOW_S)
    engine.restore(Remembered(state=state), None)
    assert engine.next_deadline() is not None
