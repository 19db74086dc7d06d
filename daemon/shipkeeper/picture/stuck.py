"""Instruments that repeat one value for ever: a gateway that goes on telling what a dead sensor
told last looks alive, and its sentences carry no time that could stand still.

The same value alone proves nothing: in a berth over mud a depth that never changes is true, and
so is a calm of 0.0 kn. So it counts as frozen only where the world cannot have stood still:

- wind: speed and angle both unchanged for 10 min, at 3 kn or more (a boat in wind yaws, and wind
  is never even); below that nothing is said;
- heading: unchanged for 10 min, while at anchor or on a mooring she moved 20 m from where she
  was, or under way her course over ground turned by 30 degrees;
- depth: unchanged for 10 min over 1000 m of way; or at anchor for 3 h where a rise of tide of
  1 m or more was entered (of 1 m, as a sine of 12.4 h, it moves by 0.14 m in the slackest 3 h).

Only an instrument that was seen alive can be found dead: one that has told a single value, or a
handful, since the watch began (a bench, a simulator, a gauge with coarse steps) is believed.
All limits are ours. What is frozen is as good as lost until it changes, also over a pause, a gap
or a restart.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from ..words.geo import LatLon, angle_difference, east_north

if TYPE_CHECKING:
    from ..words.observations import Depth, Heading, Velocity, Wind
    from .inputs import InputHealth

SAME_S = 600.0
PAUSE_S = 60.0  # after so long without a word it begins anew
LOOK_S = 10.0  # so often it is looked how far she has moved
WIND_LEAST_MS = 1.5
AT_ANCHOR_M = 20.0
TURN_DEG = 30.0
MAKING_WAY_MS = 1.5
WAY_M = 1000.0
TIDE_SAME_S = 3 * 3600.0
TIDE_LEAST_M = 1.0
ALIVE = 10  # so many changes prove that somebody measures
MOST = 64  # speakers looked at; more is garbage

Key = tuple[str, str, tuple[str, str]]  # input, what, its speaker


class Same:
    """One value of one speaker, and what the boat did while it stood."""

    __slots__ = ("at_s", "changes", "course_deg", "furthest_m", "looked_s", "place", "since_s",
                 "turned_deg", "value")  # fmt: skip

    def __init__(self, value: object, at_s: float, changes: int) -> None:
        self.value = value
        self.changes = changes  # that its speaker has made before
        self.since_s = self.at_s = at_s
        self.looked_s = at_s - LOOK_S
        self.place: LatLon | None = None
        self.furthest_m = 0.0
        self.course_deg: float | None = None
        self.turned_deg = 0.0

    def look(self, place: LatLon | None, velocity: Velocity | None, at_s: float) -> None:
        """Where she is and how she goes, now and then."""
        if at_s - self.looked_s < LOOK_S:
            return
        self.looked_s = at_s
        if place is not None:
            self.place = self.place or place
            self.furthest_m = max(self.furthest_m, math.hypot(*east_north(self.place, place)))
        if velocity is None or velocity.course_deg is None or velocity.speed_ms < MAKING_WAY_MS:
            return
        if self.course_deg is None:
            self.course_deg = velocity.course_deg
        turn = abs(angle_difference(velocity.course_deg, self.course_deg))
        self.turned_deg = max(self.turned_deg, turn)


class Stuck:
    """All that is told by all inputs of wind, heading and depth. Each method takes one fact and
    says whether it is frozen; `InputHealth.stuck` has since when."""

    def __init__(self) -> None:
        self._same: dict[Key, Same] = {}
        self._found: dict[Key, float] = {}
        self._recalled: set[tuple[str, str]] = set()

    def wake(self) -> None:
        """Nobody listened for a while: what was frozen is so until it says something else."""
        self._same = {key: same for key, same in self._same.items() if key in self._found}

    def recall(self, name: str, what: str) -> None:
        """That input repeated it when the watch was cut off: so it does until it changes."""
        self._recalled.add((name, what))

    def wind(self, fact: Wind, health: InputHealth, at_s: float) -> bool:
        key = (health.name, "wind", health.speaker)
        same = self._hear(key, fact, health, at_s)
        if fact.speed_ms < WIND_LEAST_MS:
            self._let_go(key, health)
            return False
        return self._is(key, same, health, at_s - same.since_s >= SAME_S)

    def heading(
        self,
        fact: Heading,
        health: InputHealth,
        at_s: float,
        place: LatLon | None,
        velocity: Velocity | None,
        swings: bool,
    ) -> bool:
        """swings: she lies at anchor or on a mooring."""
        key = (health.name, "heading", health.speaker)
        same = self._hear(key, fact, health, at_s)
        same.look(place, velocity, at_s)
        moved = swings and same.furthest_m >= AT_ANCHOR_M
        turned = same.turned_deg >= TURN_DEG
        return self._is(key, same, health, at_s - same.since_s >= SAME_S and (moved or turned))

    def depth(
        self,
        fact: Depth,
        health: InputHealth,
        at_s: float,
        place: LatLon | None,
        rise_m: float,
    ) -> bool:
        """rise_m: the rise of tide that was entered for where she lies; 0 if none."""
        key = (health.name, "depth", health.speaker)
        same = self._hear(key, fact, health, at_s)
        same.look(place, None, at_s)
        stood_s = at_s - same.since_s
        under_way = stood_s >= SAME_S and same.furthest_m >= WAY_M
        tide = rise_m >= TIDE_LEAST_M and stood_s >= TIDE_SAME_S
        return self._is(key, same, health, under_way or tide)

    def _hear(self, key: Key, value: object, health: InputHealth, at_s: float) -> Same:
        same = self._same.get(key)
        if same is None:
            same = Same(value, at_s, 0)
            if len(self._same) < MOST:
                self._same[key] = same
            if key[:2] in self._recalled:
                self._find(key, at_s, health)
        elif same.value != value:
            same = self._same[key] = Same(value, at_s, same.changes + 1)
            self._recalled.discard(key[:2])
            self._let_go(key, health)
        elif at_s - same.at_s > PAUSE_S and key not in self._found:
            same = self._same[key] = Same(value, at_s, same.changes)
        same.at_s = at_s
        return same

    def _is(self, key: Key, same: Same, health: InputHealth, cannot_be: bool) -> bool:
        """Found once, it is frozen until it changes, whatever else does."""
        if cannot_be and same.changes >= ALIVE and key not in self._found:
            self._find(key, same.since_s, health)
        return key in self._found

    def _find(self, key: Key, since_s: float, health: InputHealth) -> None:
        self._found[key] = since_s
        self._tell(key[1], health)

    def _let_go(self, key: Key, health: InputHealth) -> None:
        if self._found.pop(key, None) is not None:
            self._tell(key[1], health)

    def _tell(self, what: str, health: InputHealth) -> None:
        """Since when the first of that input's speakers repeats it."""
        since = [
            at_s
            for (name, told, _), at_s in self._found.items()
            if (name, told) == (health.name, what)
        ]
        if since:
            health.stuck[what] = min(since)
        else:
            health.stuck.pop(what, None)
