"""Who is in a zone: neighbours, those inside, those that left. The zone rule's memory.

Times here are stamps of what was seen, not timers: the same picture gives the same memory.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

OFF_AT_MOST_S = 12 * 3600.0


class _Kept(msgspec.Struct):
    """What outlives a restart."""

    neighbours: list[str] = []
    inside: list[str] = []
    left: list[str] = []
    quiet: list[str] = []
    off_until_s: float | None = None
    off_why: str = ""
    safe: int = 0


class Members:
    """Keys of targets (or of own ship), by what the zone knows of them."""

    def __init__(self) -> None:
        self.neighbours: dict[str, float | None] = {}  # key -> out since; None while inside
        self.inside: dict[str, str] = {}  # key -> how it came in: 'entered' | 'inside'
        self.left: set[str] = set()
        self.lost: set[str] = set()  # fell silent inside, and have not been out since
        self.quiet: set[str] = set()  # half of a ship that split in two: not a new one
        self.off_until_s: float | None = None  # a person has switched the zone off
        self.off_why = ""
        self.safe = 0  # the side of a line on which own ship was when the watch was set
        self.judged_s: float | None = None  # the last judgement
        self.settle_until_s: float | None = None  # slow reporters heard first until then count
        self.settle = False  # the next judgement takes who is inside for neighbours

    def clear(self) -> None:
        """Another watch is set. What a person has switched off stays off."""
        self.neighbours.clear()
        self.inside.clear()
        self.left.clear()
        self.lost.clear()
        self.quiet.clear()
        self.safe = 0
        self.judged_s = None

    def is_off(self, now_s: float) -> bool:
        if self.off_until_s is not None and now_s >= self.off_until_s:
            self.off_until_s = None
        return self.off_until_s is not None

    def came(self, key: str, first_heard_s: float) -> bool:
        """One is inside now. True when it was not at the last judgement."""
        self.left.discard(key)
        if key in self.neighbours:
            self.neighbours[key] = None
        if key in self.inside:
            return False
        # One heard in the second of that judgement came after it: a tick goes before the lines.
        known = self.judged_s is not None and first_heard_s < self.judged_s
        self.inside[key] = "entered" if known else "inside"
        return True

    def gone_out(self, inside_now: Iterable[str]) -> list[str]:
        """Those that were inside and are no more; they are forgotten here."""
        now = set(inside_now)
        out = [key for key in self.inside if key not in now]
        for key in out:
            del self.inside[key]
            self.lost.discard(key)
            self.quiet.discard(key)
        return out

    def is_known(self, key: str) -> bool:
        """Inside without being news."""
        return key in self.neighbours or key in self.quiet

    def merge(self, echo: str, ship: str) -> None:
        """Echo and AIS report turned out to be one ship: what was known of one holds for both."""
        if echo in self.inside:
            self.inside.setdefault(ship, self.inside.pop(echo))
        if echo in self.neighbours:
            self.neighbours.setdefault(ship, self.neighbours.pop(echo))
        for members in (self.left, self.quiet):
            if echo in members:
                members.discard(echo)
                members.add(ship)

    def drop(self, key: str) -> None:
        """A target that no longer exists."""
        self.inside.pop(key, None)
        self.neighbours.pop(key, None)
        self.left.discard(key)
        self.lost.discard(key)
        self.quiet.discard(key)

    def weighty(self) -> tuple[object, ...]:
        """What a power cut must not take, or everybody would be new after it."""
        return (*self.neighbours, None, *self.left, None, *self.quiet, self.off_until_s, self.safe)

    def encode(self) -> bytes:
        return msgspec.json.encode(
            _Kept(
                sorted(self.neighbours),
                sorted(self.inside),
                sorted(self.left),
                sorted(self.quiet),
                self.off_until_s,
                self.off_why,
                self.safe,
            )
        )

    def decode(self, state: bytes, now_s: float) -> None:
        """Take up an earlier run's memory; what is unreadable is left aside."""
        try:
            kept = msgspec.json.decode(state, type=_Kept)
        except ValueError:  # msgspec's own errors, and text that is not UTF-8
            return
        self.neighbours = dict.fromkeys(kept.neighbours)
        self.inside = dict.fromkeys(kept.inside, "inside")
        self.left, self.quiet = set(kept.left), set(kept.quiet)
        self.safe, self.off_why = kept.safe, kept.off_why
        if kept.off_until_s is not None:
            # A computer that woke up in the past must not keep a zone off for a year.
            self.off_until_s = min(kept.off_until_s, now_s + OFF_AT_MOST_S)
