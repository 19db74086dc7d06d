"""The gate: who may say what through which wire, once, in time. Else it is refused with a reason.

A command line on board may say everything; a button, the boat's own equipment and what comes
from afar only what answers alerts. What is signed (words/signed.py) has a counter that must
grow, kept over restarts, so that a command caught on the air and sent again is refused; and it
must have been sent within `WINDOW_S`, as far as this computer knows the time. From afar an
acknowledgement names the occurrence that the person saw: a late one must not answer a new alarm.
"""

from __future__ import annotations

import msgspec

from ..words.drill import BEGINS, IS_OVER, THROUGH
from ..words.events import Command

WINDOW_S = 120.0  # ours: a phone's clock and a slow link; the counter refuses replays anyway
ANSWERS = frozenset({"ack", "silence"})
HOLDING = frozenset({"take", "hand-back", "heartbeat"})
# wire -> verbs; None: all. What is not here is refused, whatever it says.
MAY_SAY: dict[str, frozenset[str] | None] = {
    "command line": None,
    "button": ANSWERS | {"here", "press"},
    "nmea": ANSWERS | {"transfer", "heartbeat"},
    "mqtt": ANSWERS | HOLDING | {"handover"},
    "push": ANSWERS,
    THROUGH: frozenset({BEGINS, IS_OVER, "alerts"}),
}
SIGNED = frozenset({"mqtt"})
FROM_AFAR = frozenset({"mqtt", "push"})
MAX_COUNTER = 2**53  # JSON numbers are whole to here in every language
KEYS_MAX = 1000  # only holders of a secret come so far; a bound all the same


class Gate:
    """Remembers the last counter of every key."""

    def __init__(self) -> None:
        self._counters: dict[str, int] = {}

    def why_not(self, command: Command, utc_s: float | None) -> str:
        """Why the command is refused; '' when it may pass. utc_s: what is held to be UTC now,
        None when this computer has no idea."""
        if command.through not in MAY_SAY:
            return f'nothing is taken through "{command.through}"'
        if command.key or command.through in SIGNED:
            refused = self._signature(command, utc_s)
            if refused:
                return refused
        allowed = MAY_SAY[command.through]
        if allowed is not None and command.verb not in allowed:
            return f'"{command.verb}" is not taken through {command.through}, only aboard by hand'
        seen = command.args.get("occurrence")
        if command.verb == "ack" and command.through in FROM_AFAR:
            if not command.args.get("id"):
                return "which alert? from afar it is named"
            if isinstance(seen, bool) or not isinstance(seen, int):
                return "which occurrence? from afar it is named, so that a late answer is none"
        return ""

    def _signature(self, command: Command, utc_s: float | None) -> str:
        """Replay and time; a counter that has passed here is used up, whatever comes of it."""
        counter, sent_s = command.counter, command.sent_s
        if not command.key or counter is None or sent_s is None:
            return f"{command.through} takes only what is signed"
        last = self._counters.get(command.key, 0)
        if not last < counter <= MAX_COUNTER:
            return f"replayed: {command.key} has said number {last} already, this is {counter}"
        if last == 0 and len(self._counters) >= KEYS_MAX:
            return "too many keys"
        self._counters[command.key] = counter
        if utc_s is not None and not abs(utc_s - sent_s) <= WINDOW_S:
            apart = "ahead of" if sent_s > utc_s else "behind"
            return (
                f"sent {abs(utc_s - sent_s):.0f} s {apart} this boat's clock; "
                f"at most {WINDOW_S:g} s is taken"
            )
        return ""

    def remember(self) -> bytes:
        return msgspec.json.encode(self._counters, order="sorted")

    def recall(self, kept: bytes | None) -> None:
        """What cannot be read is left aside: then the time window alone refuses replays."""
        if kept is None:
            return
        try:
            self._counters = msgspec.json.decode(kept, type=dict[str, int])
        except ValueError:  # msgspec's own errors, and text that is not UTF-8
            return
