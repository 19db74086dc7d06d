"""Pictures after pushes: the text has gone, then what was to be seen follows where it can.

A thread of its own, off the way of every alarm: it has a program draw (drawn.py), and pushes once
what it gets. Whatever goes wrong, the text has been delivered, and nothing is tried again. When
more come than can be drawn, or the drawing library is not installed, there is none.
"""

from __future__ import annotations

import queue
import subprocess
import sys
import threading
from collections.abc import Callable

import msgspec

from ..words.effects import Message
from . import apprise_quiet
from .drawn import MOST_BYTES, NOT_INSTALLED, Letter
from .plain import one_line

DRAW_S = 60.0  # a board with a slow card takes its time; after that nobody looks any more
MOST_WAITING = 4
PNG = b"\x89PNG\r\n\x1a\n"
PROGRAM = (sys.executable, "-m", "shipkeeper.outlets.drawn")

Push = Callable[[str, dict[str, str], bytes], object]


class Pictures:
    """`offer` from any thread."""

    def __init__(self, push: Push = apprise_quiet.send_picture) -> None:
        self._push = push
        self._waiting: queue.Queue[tuple[str, Message] | None] = queue.Queue(MOST_WAITING)
        self._lock = threading.Lock()
        self._thread: threading.Thread | None = None
        self._can = True
        self._last: tuple[str, bytes] = ("", b"")  # one alert goes to several addresses

    def offer(self, url: str, message: Message) -> None:
        """The text of this message has been taken there."""
        if message.scene is None or not self._can:
            return
        with self._lock:
            if self._thread is None:
                self._thread = threading.Thread(target=self._live, name="pictures", daemon=True)
                self._thread.start()
        try:
            self._waiting.put_nowait((url, message))
        except queue.Full:
            return  # a flood: words are enough

    def close(self) -> None:
        self._can = False
        try:
            self._waiting.put_nowait(None)
        except queue.Full:
            return

    def _live(self) -> None:
        while (due := self._waiting.get()) is not None and self._can:
            url, message = due
            if not apprise_quiet.takes_pictures(url):
                continue
            data = self._drawn(message)
            if data:
                title = one_line(message.title)
                ref = f"ref {message.number}.{message.occurrence}"
                body = f"As it was at {message.at[11:19]} UTC\n{ref}"
                drill = "DRILL: " if message.drill and "DRILL" not in title.upper() else ""
                letter = {"title": f"{drill}{title}", "body": body, "notify_type": "info"}
                self._push(url, letter, data)

    def _drawn(self, message: Message) -> bytes:
        """Empty when there is none."""
        assert message.scene is not None
        letter = Letter(message.title, message.at, message.scene)
        key = f"{message.about}/{message.occurrence}/{message.at}"
        if self._last[0] == key:
            return self._last[1]
        try:
            done = subprocess.run(
                PROGRAM, input=msgspec.json.encode(letter), capture_output=True, timeout=DRAW_S,
                check=False,
            )  # fmt: skip
        except (OSError, subprocess.TimeoutExpired):
            return b""
        if done.returncode == NOT_INSTALLED:
            self._can = False
        good = done.stdout.startswith(PNG) and len(done.stdout) <= MOST_BYTES
        self._last = (key, done.stdout if good else b"")
        return self._last[1]
