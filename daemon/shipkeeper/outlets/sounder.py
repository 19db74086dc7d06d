"""The thread behind every buzzer: plays the wanted pattern, and its own when nobody refreshes.

`show` is called at each change and once a second. When it stays away for `STALLED_S` while
something was watched, the engine has stopped: the self-fault pattern sounds from here, since
the one who should have said so is the one who is dead.
"""

from __future__ import annotations

import threading
import time
from typing import Protocol

from ..words.effects import Show, Wanted
from .patterns import PATTERNS

STEP_S = 0.02
STALLED_S = 5.0


class Voice(Protocol):
    """Something that can be on or off."""

    def tone(self, hz: int) -> None:
        """0 is silence."""

    def pattern(self, name: str, text: str) -> None:
        """Another pattern begins (a drawn buzzer tells of it)."""

    def close(self) -> None: ...


class Sounder:
    """LevelOutlet of words.wires over a voice."""

    def __init__(self, name: str, voice: Voice) -> None:
        self._name, self._voice = name, voice
        self._wake = threading.Condition()
        self._pattern, self._began = "silence", time.monotonic()
        self._text = ""
        self._fresh = -1
        self._refreshed = time.monotonic()
        self._watching = False
        self._closed = False
        self.ticks = 0
        self._thread = threading.Thread(target=self._run, name=f"sounder {name}", daemon=True)
        self._thread.start()

    def show(self, wanted: Wanted, state: Show) -> None:
        mine = wanted.outlets is None or self._name in wanted.outlets
        pattern = wanted.pattern if mine else "silence"
        with self._wake:
            self._refreshed = time.monotonic()
            self._watching = state.watching or pattern != "silence"
            again = wanted.fresh != self._fresh and pattern != "silence"
            if pattern != self._pattern or again:
                self._pattern, self._text = pattern, wanted.text
                self._began = time.monotonic()
                self._fresh = wanted.fresh
                self._voice.pattern(pattern, wanted.text)
                self._wake.notify()

    def close(self) -> None:
        with self._wake:
            self._closed = True
            self._wake.notify()
        self._thread.join(1.0)

    def _run(self) -> None:
        on = 0
        while True:
            with self._wake:
                if self._closed:
                    break
                now = time.monotonic()
                stalled = self._watching and now - self._refreshed > STALLED_S
                if stalled and self._pattern != "fault":
                    self._pattern, self._began = "fault", now
                    self._voice.pattern("fault", "the watch has stopped answering")
                pattern = PATTERNS.get(self._pattern, PATTERNS["alarm"])
                hz = pattern.sounding(now - self._began)
                # Nothing to sound: sleep until told, but look for a stalled engine.
                idle = not pattern.pulses
                if hz != on:
                    on = hz
                    self._voice.tone(hz)
                self.ticks += 1
                self._wake.wait(0.5 if idle else STEP_S)
        self._voice.tone(0)
        self._voice.close()
