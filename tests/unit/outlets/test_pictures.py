"""A picture after a push: drawn by the real program, sent by the real apprise, seen as a PNG."""

from __future__ import annotations

import base64
import io
import queue
import sys
import time

import pytest
from PIL import Image
from tests.peers import Phone
from tests.peers.messages import message
from tests.scenes.sea import HERE

from shipkeeper.outlets import pictures
from shipkeeper.outlets.drawn import HIGH, MOST_BYTES, WIDE, Letter, drawn
from shipkeeper.outlets.push import Push, PushSender
from shipkeeper.words.geo import offset
from shipkeeper.words.scene import Other, Place, Round, Scene

MARK: Place = (HERE.lat, HERE.lon)
PNG = b"\x89PNG\r\n\x1a\n"


def place(bearing_deg: float, range_m: float) -> Place:
    there = offset(HERE, bearing_deg, range_m)
    return there.lat, there.lon


DRAG = Scene(
    vessel="Marren",
    boat=place(70, 72),
    length_m=11.4,
    heading_deg=250.0,
    mark=MARK,
    rounds=(
        Round(what="reach", centre=MARK, radius_m=48.0),
        Round(what="alarm", centre=MARK, radius_m=60.0),
    ),
)
SHIP = Scene(
    vessel="\x1b[2JMarren",
    boat=MARK,
    length_m=11.4,
    rounds=(Round(what="zone", centre=MARK, radius_m=500, left_deg=330.0, right_deg=30.0),),
    outline=(place(0, 900), place(90, 900), place(180, 900)),
    other=Other(name="\u202e<NAME>", place=place(310, 40_000), course_deg=0.0, speed_ms=50.0),
)
NOTHING = Scene(vessel="", boat=MARK, length_m=1.0, other=Other(name="", place=MARK))


def sender(*urls: str, picture: bool = True) -> PushSender:
    return PushSender(Push(urls="/plain", picture=picture), lambda _: "\n".join(urls), 10.0)


@pytest.mark.parametrize("scene", [DRAG, SHIP, NOTHING])
def test_any_scene_is_a_small_picture(scene: Scene) -> None:
    """Under 60 kB, whatever is in it."""
    data = drawn(Letter("T" * 40, "2026-06-12T02:13:45.000Z", scene))
    assert data.startswith(PNG) and len(data) < MOST_BYTES
    with Image.open(io.BytesIO(data)) as picture:
        assert picture.size == (WIDE, HIGH)
        assert len(picture.convert("RGB").getcolors(100_000) or ()) > 5


def test_the_text_comes_first_and_the_picture_after_it() -> None:
    """In a push of its own, with the time to which it belongs and the same reference."""
    with Phone() as phone:
        began_s = time.monotonic()
        sender(phone.url()).deliver(message(scene=DRAG))
        text = phone.next()
        assert time.monotonic() - began_s < 30.0
        assert text["message"].startswith("52 m from") and not text["attachments"]
        picture = phone.next(60.0)
        assert picture["title"] == "DRAGGING"
        assert picture["message"] == "As it was at 02:13:45 UTC\nref 1.1"
        (attached,) = picture["attachments"]
        assert base64.b64decode(attached["base64"]).startswith(PNG)


def test_none_where_it_is_not_wanted_not_known() -> None:
    with Phone() as phone:
        sender(phone.url(), picture=False).deliver(message(1, scene=DRAG))
        sender(phone.url()).deliver(message(2))
        for _ in range(2):
            phone.got.get(timeout=10.0)
        with pytest.raises(queue.Empty):
            phone.next(1.0)


@pytest.mark.parametrize(
    "program",
    [
        ("/no/such/program",),
        (sys.executable, "-c", "raise SystemExit(3)"),  # the drawing library is not installed
        (sys.executable, "-c", "print('no picture')"),
        (sys.executable, "-c", "import time; time.sleep(60)"),
        (sys.executable, "-c", "print('x' * 100_000)"),
    ],
)
def test_a_picture_that_fails_loses_no_text(
    program: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The text has gone, the next text goes; nothing comes after them."""
    monkeypatch.setattr(pictures, "PROGRAM", program)
    monkeypatch.setattr(pictures, "DRAW_S", 1.0)
    with Phone() as phone:
        push = sender(phone.url())
        for number in range(3):
            push.deliver(message(number, scene=DRAG))
            assert phone.next()["message"].endswith("raised 02:13:45")
        with pytest.raises(queue.Empty):
            phone.next(1.5)


def test_a_service_that_refuses_the_picture_has_the_text() -> None:
    with Phone() as phone:
        push = sender(phone.url())
        push.deliver(message(1, scene=DRAG))
        phone.next()
        phone.manner = "refuse"
        edge_s = time.monotonic() + 30.0
        while len(phone.asked) < 2 and time.monotonic() < edge_s:
            time.sleep(0.05)
        phone.manner = "take"
        push.deliver(message(2))
        assert phone.next()["message"].endswith("ref 2.1 raised 02:13:45")
