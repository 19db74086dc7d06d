"""The thread behind every buzzer: plays the wanted pattern, and its own when nobody refreshes.

`show` is called at each change and once a second; it only leaves word and never waits for the
wire. When it stays away for `STALLED_S` while something was watched, the engine has stopped:
the self-fault pattern sounds from here, since the one who should have said so is the one who
is dead. An alarm that sounds goes on sounding through that: it is the louder word.

What must never happen: a buzzer that died and looks silent. A wire that is lost ends the
thread, `show` raises from then on and `ticks` stands still, so that it is opened anew.
"""

from __future__ import annotations

import threading
import time
from typing import Protocol

from ..words.effects import Show, Wanted
from .patterns import URGENT, pattern

LONGEST_WAIT_S = 0.5  # also how soon a stalled engine is noticed
STALLED_S = 5.0
STALLED_TEXT = "the watch has stopped answering"


class Voice(Protocol):
    """Something that can be on or off. Called from the sounder's thread alone."""

    def tone(self, hz: int) -> None:
        """0 is silence. Raises OSError when the wire is lost."""

    def pattern(self, name: str, text: str) -> None:
        """Another pattern begins (a drawn buzzer tells of it)."""

    def close(self) -> None: ...


class Sounder:
    """LevelOutlet of words.wires over a voice."""

    def __init__(self, name: str, voice: Voice) -> None:
        self._name, self._voice = name, voice
        self._wake = threading.Condition()
        self._pattern, self._began, self._text = "silence", time.monotonic(), ""
        self._fresh = -1
        self._clicks: int | None = None  # None: nothing was shown yet
        self._click = ("", 0.0)  # an answer that is being heard, and since when
        self._refreshed = time.monotonic()
        self._watching = False
        self._closed = False
        self._announce = False
        self.ticks = 0
        self.fault = ""  # why it died, when it has
        self._thread = threading.Thread(target=self._live, name=f"sounder {name}", daemon=True)
        self._thread.start()

    def show(self, wanted: Wanted, state: Show) -> None:
        """Leave word of what should sound. Raises OSError once the wire has been lost."""
        mine = wanted.outlets is None or self._name in wanted.outlets
        name = wanted.pattern if mine else "silence"
        with self._wake:
            if self.fault:
                raise OSError(self.fault)
            now = time.monotonic()
            self._refreshed = now
            self._watching = state.watching
            again = wanted.fresh != self._fresh
            self._fresh = wanted.fresh
            if self._clicks is not None and wanted.clicks != self._clicks:
                self._click = (wanted.click, now)
                self._wake.notify()
            self._clicks = wanted.clicks
            if name == "warning" and name != self._pattern and not again:
                name = "silence"  # it was told before something louder came, or during it
            if self._changes(name, again):
                self._begin(name, wanted.text, now)

    def close(self) -> None:
        with self._wake:
            self._closed = True
            self._wake.notify()
        self._thread.join(1.0)

    def _changes(self, name: str, again: bool) -> bool:
        """Whether that pattern is to begin now."""
        if name == self._pattern:
            return again and name != "silence"
        return True

    def _begin(self, name: str, text: str, now: float) -> None:
        self._pattern, self._text, self._began = name, text, now
        self._announce = True
        self._wake.notify()

    def _live(self) -> None:
        try:
            self._play()
        except (OSError, ValueError) as error:
            self.fault = f"buzzer lost: {getattr(error, 'strerror', None) or error}"
        try:
            self._voice.tone(0)
            self._voice.close()
        except (OSError, ValueError) as error:
            self.fault = self.fault or f"buzzer lost: {error}"

    def _play(self) -> None:
        sounding = 0
        while True:
            with self._wake:
                if self._closed:
                    return
                now = time.monotonic()
                self._look_for_a_stall(now)
                hz, wait_s = self._tone(now)
                announce, self._announce = self._announce, False
                name, text = self._pattern, self._text
                if hz == sounding and not announce:
                    self.ticks += 1
                    self._wake.wait(min(wait_s, LONGEST_WAIT_S))
                    continue
            # Out of the lock: a wire that hangs must not hold up the one who leaves word.
            if announce:
                self._voice.pattern(name, text)
            if hz != sounding:
                sounding = hz
                self._voice.tone(hz)

    def _tone(self, now: float) -> tuple[int, float]:
        """What sounds now, and seconds until it changes: an answer is heard out, then the rest."""
        click, since = self._click
        if click:
            answer = pattern(click)
            if not answer.over(now - since):
                return answer.sounding(now - since), answer.next_change(now - since)
            self._click = ("", 0.0)
        playing, since_s = pattern(self._pattern), now - self._began
        return playing.sounding(since_s), playing.next_change(since_s)

    def _look_for_a_stall(self, now: float) -> None:
        if now - self._refreshed <= STALLED_S or self._pattern in (*URGENT, "fault"):
            return
        if self._watching:
            self._begin("fault", STALLED_TEXT, now)
