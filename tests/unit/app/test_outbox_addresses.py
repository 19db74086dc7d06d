"""An outlet with several addresses: each by itself. The real push over real HTTP receivers."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Sequence

import pytest
from tests.peers import Phone

from shipkeeper.app import outbox
from shipkeeper.app.clock import Clock
from shipkeeper.app.outbox import EdgeWorker
from shipkeeper.outlets.push import Push, PushOutlet
from shipkeeper.words.alert import Priority

from .outlets import NIGHT_S, message


class Pushing:
    """A push outlet at work for two phones; `addresses` may be changed meanwhile."""

    def __init__(self) -> None:
        self.good, self.other = Phone(), Phone()
        self.addresses = f"{self.good.url()}\n{self.other.url()}"
        self.paid: list[str] = []
        self.news: list[tuple[bool, str]] = []
        self.worker = EdgeWorker(
            PushOutlet(name="phone", push=Push(urls="/urls")),
            lambda _: self.addresses,
            Clock(starts_s=NIGHT_S),
            lambda name, up, why: self.news.append((up, why)),
            self._paid,
        )
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self.worker.run, args=(self._stop,))
        self._thread.start()

    def _paid(self, ids: Sequence[str]) -> None:
        self.paid += ids

    def end(self) -> None:
        self._stop.set()
        self._thread.join(10)
        self.good.close()
        self.other.close()


@pytest.fixture
def pushing() -> Iterator[Pushing]:
    running = Pushing()
    yield running
    running.end()


def until(found: Callable[[], object], within_s: float = 30.0) -> None:
    edge_s = time.monotonic() + within_s
    while not found():
        assert time.monotonic() < edge_s
        time.sleep(0.01)


def test_a_limited_address_is_left_alone_for_as_long_as_it_said(pushing: Pushing) -> None:
    """Six messages; one service answers 429 and wants four seconds. It is not asked again before
    they are over, then has all of them in two pushes; the other has each at once; nothing is
    paid before both have it."""
    pushing.other.manner, pushing.other.headers = "limit", {"Retry-After": "4"}
    pushing.worker.offer([message(0, priority=Priority.ALARM)])
    until(lambda: pushing.news)
    assert pushing.news == [
        (False, "push address 2: the service answered 429 and wants 4 s without a message")
    ]
    pushing.other.manner = "take"
    for number in range(1, 6):
        pushing.worker.offer([message(number)])
        assert pushing.good.next()["title"] == f"T{number - 1}"
    assert pushing.good.next()["title"] == "T5"
    assert pushing.paid == [] and pushing.worker.waiting() == 6
    first, rest = (pushing.other.next(15.0) for _ in range(2))
    assert pushing.other.asked[1] - pushing.other.asked[0] >= 4.0
    assert first["title"] == "T0"
    assert all(f"T{number}" in rest["message"] for number in range(1, 6))
    until(lambda: len(pushing.paid) == 6)
    assert pushing.good.got.empty() and pushing.worker.waiting() == 0
    until(lambda: pushing.news[-1] == (True, "delivers"))


def test_what_one_has_alone_is_not_missing_for_it_in_a_list(pushing: Pushing) -> None:
    """The good one has each message by itself; the list that the other gets later is not sent to
    it, and does not count for it instead of a message it never had."""
    pushing.other.manner = "refuse"
    for number in range(6):
        pushing.worker.offer([message(number)])
    titles = {pushing.good.next()["title"] for _ in range(6)}
    assert titles == {f"T{number}" for number in range(6)}
    pushing.other.manner = "take"
    until(lambda: len(pushing.paid) == 6)
    assert pushing.good.got.empty()
    told = "".join(str(pushing.other.got.get()) for _ in range(pushing.other.got.qsize()))
    assert all(f"T{number}" in told for number in range(6))


def test_nobody_has_it_is_told_from_one_who_has_it_not(pushing: Pushing) -> None:
    """As long as one address has each message somebody is reached."""
    pushing.other.manner = "refuse"
    pushing.worker.offer([message(1)])
    pushing.good.next()
    until(lambda: pushing.news)
    until(lambda: pushing.worker.unheard_s() == 0.0)  # the answer is on its way for a moment
    pushing.good.manner = "refuse"
    pushing.worker.offer([message(2)])
    until(lambda: pushing.worker.unheard_s() > 0.2)
    pushing.good.manner = pushing.other.manner = "take"
    until(lambda: pushing.worker.unheard_s() == 0.0)


def test_a_phone_that_is_gone_for_good_is_not_owed_a_history(
    pushing: Pushing, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the other address has had for a day (here a second) is owed no longer; what nobody has
    had is kept as long as it takes."""
    monkeypatch.setattr(outbox, "SOMEBODY_HAS_IT_S", 1.0)
    pushing.other.manner = "refuse"
    pushing.worker.offer([message(1)])
    pushing.good.next()
    assert pushing.paid == []
    until(lambda: pushing.paid == ["m1"])
    pushing.good.manner = "refuse"
    pushing.worker.offer([message(2)])
    time.sleep(2.5)
    assert pushing.paid == ["m1"] and pushing.worker.waiting() == 1
    pushing.good.manner = "take"
    assert "T2" in pushing.good.next(30.0)["title"]


def test_an_address_that_hangs_delays_no_other(pushing: Pushing) -> None:
    """Nor does one that is not understood."""
    pushing.other.manner = "hang"
    pushing.addresses += "\nnonsense://x"
    for number in range(3):
        before_s = time.monotonic()
        pushing.worker.offer([message(number)])
        pushing.good.next()
        assert time.monotonic() - before_s < 3.0
    assert pushing.paid == []


def test_an_address_that_is_taken_out_of_the_file_is_owed_nothing(pushing: Pushing) -> None:
    """And one that is mended has what it missed."""
    pushing.addresses = f"{pushing.good.url()}\nnonsense://x"
    pushing.worker.offer([message(1)])
    pushing.good.next()
    until(lambda: pushing.news)
    assert pushing.worker.waiting() == 1
    pushing.addresses = f"{pushing.good.url()}\n{pushing.other.url()}"
    pushing.worker.offer([message(2)])
    until(lambda: len(pushing.paid) == 2)
    told = "".join(str(pushing.other.got.get()) for _ in range(pushing.other.got.qsize()))
    assert "T1" in told and "T2" in told


def test_a_file_that_cannot_be_read_loses_nothing(pushing: Pushing) -> None:
    """It is said, and what was owed goes when it can be read again."""
    good, pushing.addresses = pushing.addresses, ""
    pushing.worker.offer([message(1)])
    until(lambda: pushing.news)
    assert pushing.news[0] == (
        False,
        "push addresses cannot be read: the push secret holds no address",
    )
    pushing.addresses = good
    until(lambda: pushing.paid == ["m1"])
