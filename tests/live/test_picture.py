"""The whole way of a picture: a drag on the wire, the text on the phone, the picture behind it."""

from __future__ import annotations

import base64
from pathlib import Path

from demo import night
from tests.live.boat import ORDERS, Boat, Fixes
from tests.live.test_watch import drag


def test_a_drag_is_told_in_words_and_then_shown(tmp_path: Path) -> None:
    with Boat(tmp_path, ORDERS.replace(", picture = false", "")) as boat:
        flags = ("--time-lapse", "20", "--starts", "2026-06-11T22:00:00Z")
        with Fixes(boat, start_s=night.START, beat_s=0.05) as fixes, boat.watch(*flags):
            boat.server.wait(within_s=60)
            drag(boat, fixes)
            text = boat.pushed("DRAG")
            assert "from the mark" in text["message"] and not text["attachments"]
            shown = boat.pushed("As it was at", within_s=60.0)
            assert shown["title"] == text["title"]
            (picture,) = shown["attachments"]
            data = base64.b64decode(picture["base64"])
            assert data.startswith(b"\x89PNG") and len(data) < 60_000
            (tmp_path / "shown.png").write_bytes(data)
