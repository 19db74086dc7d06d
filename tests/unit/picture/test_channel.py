"""One quantity from several inputs: preference, fail-over at once, and back after a while."""

from __future__ import annotations

from shipkeeper.picture.channel import SETTLE_S, Channel


def channel() -> Channel[float]:
    return Channel({"first": 0, "second": 1}, stale_s=10.0)


def test_the_preferred_input_is_used_while_it_is_fresh() -> None:
    """The order of the orders decides, not who spoke last."""
    depth = channel()
    for t in range(5):
        depth.put(1.0, "first", t)
        depth.put(2.0, "second", t + 0.5)
    reading = depth.get(4.6)
    assert reading is not None
    assert reading.source == "first"


def test_the_next_takes_over_when_the_first_goes_stale() -> None:
    """No reading is handed out past its age; the other one is at hand at once."""
    depth = channel()
    depth.put(1.0, "first", 0.0)
    for t in range(30):
        depth.put(2.0, "second", float(t))
    reading = depth.get(29.0)
    assert reading is not None
    assert reading.value == 2.0
    assert depth.get(80.0) is None


def test_the_preferred_input_comes_back_only_after_it_has_settled() -> None:
    """A half-dead wire must not make the value hop between receivers."""
    depth = channel()
    depth.put(1.0, "first", 0.0)
    sources = []
    for t in range(200):
        depth.put(2.0, "second", float(t))
        if t >= 100:
            depth.put(1.0, "first", float(t))
        reading = depth.get(float(t))
        assert reading is not None
        sources.append(reading.source)
    back = sources.index("first", 50)
    assert sources[50] == "second"
    assert 100 + SETTLE_S <= back <= 100 + SETTLE_S + 2


def test_a_slow_sender_is_not_stale_between_its_own_reports() -> None:
    """At one fix in ten seconds a fix of 30 s ago is still the fix."""
    slow = channel()
    for t in range(0, 200, 10):
        slow.put(1.0, "first", float(t))
    assert slow.get(190 + 40.0) is not None
    assert slow.get(190 + 61.0) is None


def test_a_withdrawn_reading_is_gone_at_once() -> None:
    """A receiver that says 'no fix' has none, however new the last one."""
    place = channel()
    place.put(1.0, "first", 0.0)
    place.withdraw("first")
    assert place.get(0.1) is None
