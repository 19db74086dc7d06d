"""The set of targets: reports and echoes taken in, the old dropped, the set bounded."""

from __future__ import annotations

from collections.abc import Iterator

from ..words.geo import LatLon, east_north
from ..words.observations import AisAid, AisReport, AisStatic, AisText, RadarEcho, RadarPlace
from .targets import DROP_AFTER_S, Target


class Targets:
    """All targets by key. Own echo never gets here."""

    def __init__(self, own_mmsi: int = 0) -> None:
        self.own_mmsi = own_mmsi
        self.by_key: dict[str, Target] = {}
        self._around: dict[LatLon, list[tuple[Target, float, float]]] = {}
        self._around_s = float("-inf")

    def __iter__(self) -> Iterator[Target]:
        return iter(self.by_key.values())

    def __len__(self) -> int:
        return len(self.by_key)

    def get(self, key: str) -> Target | None:
        return self.by_key.get(key)

    def around(self, centre: LatLon, now_s: float) -> list[tuple[Target, float, float]]:
        """Every placed target, dead-reckoned to now, metres east and north of `centre`.

        Made once a moment and centre: all rules of one tick share it.
        """
        if self._around_s != now_s:
            self._around.clear()
            self._around_s = now_s
        rows = self._around.get(centre)
        if rows is None:
            rows = self._around[centre] = []
            for target in self.by_key.values():
                place = target.place_at(now_s)
                if place is not None:
                    east, north = east_north(centre, place)
                    rows.append((target, east, north))
        return rows

    def report(self, fact: AisReport, source: str, at_s: float) -> None:
        """A dynamic AIS report."""
        target = self._ais(fact.mmsi, at_s)
        target.station = fact.station
        target.source = source
        target.last_s = at_s
        target.updates += 1
        target.lost = False
        target.speed_ms = fact.speed_ms
        target.course_deg = fact.course_deg
        target.heading_deg = fact.heading_deg
        target.turn_deg_min = fact.turn_deg_min
        target.nav_status = fact.nav_status
        target.accurate = fact.accurate
        if fact.lat is not None and fact.lon is not None:
            target.lat, target.lon, target.placed_s = fact.lat, fact.lon, at_s

    def static(self, fact: AisStatic, source: str, at_s: float) -> None:
        """Name, kind and size; parts that a message does not carry stay as they are."""
        target = self._ais(fact.mmsi, at_s)
        for name in (
            "name",
            "callsign",
            "ship_type",
            "to_bow_m",
            "to_stern_m",
            "to_port_m",
            "to_starboard_m",
        ):
            value = getattr(fact, name)
            if value is not None:
                setattr(target, name, value)

    def aid(self, fact: AisAid, source: str, at_s: float) -> None:
        target = self._ais(fact.mmsi, at_s)
        target.name, target.virtual, target.off_position = (
            fact.name,
            fact.virtual,
            fact.off_position,
        )

    def said(self, fact: AisText, source: str, at_s: float) -> None:
        target = self._ais(fact.mmsi, at_s)
        target.text, target.text_s = fact.text, at_s

    def echo(
        self,
        fact: RadarEcho | RadarPlace,
        source: str,
        at_s: float,
        *,
        own_place: LatLon | None,
        heading_deg: float | None,
        own_velocity: tuple[float, float] | None,
    ) -> None:
        """A tracked radar target."""

    def sweep(self, now_s: float) -> None:
        """Once a second: drop what is too old."""
        old = [k for k, t in self.by_key.items() if now_s - t.last_s > DROP_AFTER_S]
        for key in old:
            del self.by_key[key]

    def _ais(self, mmsi: int, at_s: float) -> Target:
        key = f"ais:{mmsi:09d}"
        target = self.by_key.get(key)
        if target is None:
            target = self.by_key[key] = Target(key, "ais", at_s)
            target.mmsi = mmsi
        return target
