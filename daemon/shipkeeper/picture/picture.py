"""The picture: own ship, targets, inputs and the watch, as known now. What rules look at.

`take` is the one way in for observations. Nothing here decides anything; every number keeps
the stamp it came with, so that whoever reads it can say how old it is.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Mapping
from typing import Any

from ..words.geo import LatLon
from ..words.observations import (
    AisAid,
    AisReport,
    AisStatic,
    AisText,
    Depth,
    FixQuality,
    Heading,
    Measurement,
    Observation,
    Position,
    PositionInvalid,
    RadarEcho,
    RadarPlace,
    UtcTime,
    Variation,
    Velocity,
    WaterSpeed,
    Wind,
)
from ..words.orders import Vessel
from .channel import Channel, Reading
from .inputs import InputHealth, Inputs
from .own_ship import OwnShip, is_poor
from .second_opinion import AIS, SecondOpinions
from .soundings import waterline_m
from .stuck import Stuck
from .time_quality import TimeLabel, dated_s
from .tracks import Targets
from .watch import WatchSet

MEASURE_STALE_S = 60.0
# What an input says of own ship; of others' ships every message has a length to be checked too.
OWN_FACTS = frozenset(
    {Position, Velocity, Heading, Depth, Wind, Measurement, FixQuality, WaterSpeed}
)


class Picture:
    """All that is known now. Owned by the engine, read by rules."""

    def __init__(
        self, vessel: Vessel, expected: Mapping[str, tuple[str, ...]], now_s: float
    ) -> None:
        """expected: input name -> what it must bring, in order of preference."""
        self.vessel = vessel
        self._order = {name: rank for rank, name in enumerate(expected)}
        self.own = OwnShip(self._order)
        self.targets = Targets(own_mmsi=vessel.mmsi, own_reach_m=vessel.length_m)
        self.inputs = Inputs(expected, now_s)
        self.opinions = SecondOpinions(self._order, vessel.length_m)
        self.stuck = Stuck()
        self.watch = WatchSet(since_s=now_s)
        self.time = TimeLabel()
        self.contacts: dict[str, Reading[bool | None]] = {}
        self.measurements: dict[str, Channel[Measurement]] = {}
        self.started_s = now_s  # watched without a gap since then
        self.person_s = float("-inf")  # the last sign of a person aboard
        self._own_mmsis = {vessel.mmsi} - {0}
        self.unplaced_s = float("-inf")  # the last echo by relative bearing, and no heading to it
        self.blind: dict[str, tuple[str, ...]] = {}  # rule name -> what it lacks to judge
        self.blind_at_s = now_s  # the grid second at which that was judged
        self.blind_since: dict[str, float] = {}  # rule name -> since when it lacks something
        self.distress_texts: deque[tuple[float, AisText]] = deque(maxlen=32)
        # A look into a table for every fact, not a question for every type there is.
        self._takers: dict[type, Callable[[Any, str, InputHealth, float], None]] = {
            AisReport: self._report,
            AisStatic: self._static,
            AisAid: self._aid,
            AisText: self._text,
            Position: self._position,
            PositionInvalid: self._no_fix,
            Velocity: self._velocity,
            Heading: self._heading,
            UtcTime: self._time,
            FixQuality: self._quality,
            Wind: self._wind,
            Depth: self._depth,
            RadarEcho: self._radar,
            RadarPlace: self._radar,
            Measurement: self._measurement,
            Variation: self._variation,
            WaterSpeed: self._water_speed,
        }

    def take(self, fact: Observation, source: str, at_s: float) -> None:
        """Put one observation where it belongs."""
        kind = type(fact)
        taker = self._takers.get(kind)
        if taker is None:
            return
        health = self.inputs.of(source, at_s)
        if kind in OWN_FACTS and health.is_garbled(at_s):
            # One damaged sentence in 256 has a checksum that fits: none is believed now.
            health.withheld = "errors"
            self.own.position.withdraw(source)
            return
        taker(fact, source, health, at_s)

    # -- one way for each sort of fact; `_takers` says which -------------------------------------

    def _report(self, fact: AisReport, source: str, health: InputHealth, at_s: float) -> None:
        health.last_what["ais"] = at_s
        if not self._is_own(fact.mmsi, fact.own):
            self.targets.report(fact, source, at_s)
            return
        health.last_what["own report"] = at_s
        if fact.lat is not None and fact.lon is not None:
            self._echo(LatLon(fact.lat, fact.lon), at_s)

    def _static(self, fact: AisStatic, source: str, health: InputHealth, at_s: float) -> None:
        health.last_what["ais"] = at_s
        if not self._is_own(fact.mmsi, fact.own):
            self.targets.static(fact, source, at_s)

    def _aid(self, fact: AisAid, source: str, health: InputHealth, at_s: float) -> None:
        self.targets.aid(fact, source, at_s)

    def _text(self, fact: AisText, source: str, health: InputHealth, at_s: float) -> None:
        self.distress_texts.append((at_s, fact))
        self.targets.said(fact, source, at_s)

    def _radar(
        self, fact: RadarEcho | RadarPlace, source: str, health: InputHealth, at_s: float
    ) -> None:
        health.last_what["radar"] = at_s
        place, heading_deg = self.own.position.get(at_s), self.own.heading_deg(at_s)
        if heading_deg is None and type(fact) is RadarEcho and fact.bearing_relative:
            self.unplaced_s = at_s
        self.targets.echo(
            fact,
            source,
            at_s,
            own_place=place.value if place else None,
            heading_deg=heading_deg,
            own_velocity=self.own_velocity(at_s),
        )

    def _velocity(self, fact: Velocity, source: str, health: InputHealth, at_s: float) -> None:
        if not health.withheld:
            self.own.velocity.put(fact, source, at_s)

    def _heading(self, fact: Heading, source: str, health: InputHealth, at_s: float) -> None:
        velocity = self.own.velocity.get(at_s)
        going = None if velocity is None else velocity.value
        swings = self.watch.watch in ("anchored", "moored")
        if self.stuck.heading(fact, health, at_s, self.own_place(at_s), going, swings):
            self.own.headings(magnetic=fact.magnetic).unsay(fact.heading_deg, source)
            return
        health.last_what["heading"] = at_s
        self.own.put_heading(fact, source, at_s)

    def _wind(self, fact: Wind, source: str, health: InputHealth, at_s: float) -> None:
        if self.stuck.wind(fact, health, at_s):
            self.own.winds[fact.frame].unsay(fact, source)
            return
        health.last_what["wind"] = at_s
        self.own.put_wind(fact, source, at_s)

    def _depth(self, fact: Depth, source: str, health: InputHealth, at_s: float) -> None:
        mark = self.watch.mark
        rise_m = 0.0 if mark is None else mark.rise_m
        if self.stuck.depth(fact, health, at_s, self.own_place(at_s), rise_m):
            self.own.depth.unsay(self.own.with_offset(fact, source), source)
            return
        health.last_what["depth"] = at_s
        self.own.put_depth(fact, source, at_s)

    def _no_fix(self, fact: PositionInvalid, source: str, health: InputHealth, at_s: float) -> None:
        self.own.put_invalid(fact, source, at_s)

    def _variation(self, fact: Variation, source: str, health: InputHealth, at_s: float) -> None:
        self.own.put_variation(fact, source, at_s)

    def _water_speed(self, fact: WaterSpeed, source: str, health: InputHealth, at_s: float) -> None:
        self.own.water_speed.put(fact, source, at_s)

    def _measurement(
        self, fact: Measurement, source: str, health: InputHealth, at_s: float
    ) -> None:
        channel = self.measurements.get(fact.name)
        if channel is None:
            if len(self.measurements) >= 256:
                return  # a talker inventing names must not eat the memory
            channel = Channel(self._order, MEASURE_STALE_S)
            self.measurements[fact.name] = channel
        health.last_what[fact.name] = at_s
        channel.put(fact, source, at_s)

    def wake(self, at_s: float) -> None:
        """After a time in which nobody watched: silence counts from here, not from before."""
        self.started_s = at_s
        self.inputs.wake(at_s)
        self.stuck.wake()
        self.blind_since = dict.fromkeys(self.blind_since, at_s)

    def recall_fault(self, facts: dict[str, Any], at_s: float) -> None:
        """An earlier run told this of an input (facts of the feed rule), from more than was heard
        since: it is so until the input says something else."""
        name, fault, other = (str(facts.get(key, "")) for key in ("input", "fault", "other"))
        if name not in self.inputs.by_name:
            return  # it is no longer in the orders
        if fault.startswith("stuck "):
            self.stuck.recall(name, fault.removeprefix("stuck "))
        elif fault == "no ais":
            self.inputs.by_name[name].ear.recall(at_s)
        elif fault in ("disagree", "echo") and (other == AIS or other in self.inputs.by_name):
            self.opinions.recall(name, other, float(facts.get("apart_m") or 0.0), at_s)

    def own_place(self, now_s: float) -> LatLon | None:
        """Where the GNSS antenna is now, or None: a stale position is no position."""
        reading = self.own.position.get(now_s)
        return reading.value if reading is not None else None

    def water_m(self, now_s: float) -> float | None:
        """Depth of water, surface to bottom, now; None when it is not known."""
        reading = self.own.depth.get(now_s)
        return None if reading is None else waterline_m(reading.value, self.vessel)

    def own_velocity(self, now_s: float) -> tuple[float, float] | None:
        """(speed m/s, course deg): zero at rest by the watch; None when not known under way."""
        if self.watch.at_rest:
            return 0.0, 0.0
        reading = self.own.velocity.get(now_s)
        if reading is None:
            return None
        if reading.value.course_deg is None:
            return (0.0, 0.0) if reading.value.speed_ms < 0.3 else None
        return reading.value.speed_ms, reading.value.course_deg

    def _is_own(self, mmsi: int, heard_as_own: bool) -> bool:
        if heard_as_own and mmsi not in self._own_mmsis:
            self._own_mmsis.add(mmsi)  # our own transponder has told who we are
            self.targets.forget(f"ais:{mmsi:09d}")
        return mmsi in self._own_mmsis

    def _position(self, fact: Position, source: str, health: InputHealth, at_s: float) -> None:
        """A fix that cannot be believed is as good as none: what it lacks is named."""
        own = self.own
        quality = own.quality.of(source, at_s)
        doubt = health.clock_fault(at_s)
        if not doubt and quality is not None and is_poor(quality.value):
            doubt = "poor fix"
        if doubt:
            own.invalid_since.pop(source, None)
            own.position.withdraw(source)
        elif not own.put_position(fact, source, at_s):
            doubt = "jump"
        health.withheld = doubt
        if doubt:
            return
        health.last_what["position"] = at_s
        place = LatLon(fact.lat, fact.lon)
        self.targets.own_place = place
        if own.position.has_several:
            others = own.position.fresh(at_s)
            self.opinions.compare(place, source, at_s, others, self._speed_ms(at_s))

    def _echo(self, place: LatLon, at_s: float) -> None:
        """Where our own transponder puts us, against where we think we are."""
        self.own.ais_echo = Reading(place, AIS, at_s)
        reading = self.own.position.get(at_s)
        if reading is not None:
            self.opinions.compare(place, AIS, at_s, (reading,), self._speed_ms(at_s))

    def _speed_ms(self, at_s: float) -> float:
        reading = self.own.velocity.get(at_s)
        return 0.0 if reading is None else reading.value.speed_ms

    def _time(self, fact: UtcTime, source: str, health: InputHealth, at_s: float) -> None:
        health.clock(fact.second_of_day, at_s)
        if fact.date is not None:
            self.time.receiver(fact.second_of_day, fact.date, at_s)
            utc_s = dated_s(fact.second_of_day, fact.date)
            if utc_s is not None:
                health.date.hear(utc_s, self.time.astray_s(utc_s, at_s), at_s)

    def _quality(self, fact: FixQuality, source: str, health: InputHealth, at_s: float) -> None:
        """RMC, GGA, GSA and GST each say a part: what one leaves out the other keeps."""
        before = self.own.quality.of(source, at_s)
        if before is not None:
            old = before.value
            fact = FixQuality(
                hdop=fact.hdop if fact.hdop is not None else old.hdop,
                sigma_m=fact.sigma_m if fact.sigma_m is not None else old.sigma_m,
                satellites=fact.satellites if fact.satellites is not None else old.satellites,
                fix_kind=fact.fix_kind if fact.fix_kind is not None else old.fix_kind,
            )
        self.own.quality.put(fact, source, at_s)
        if is_poor(fact) and source in self.inputs.by_name:
            self.inputs.by_name[source].withheld = "poor fix"
            self.own.position.withdraw(source)
