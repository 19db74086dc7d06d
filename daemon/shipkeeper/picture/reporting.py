"""How often a station reports, and so when its silence means that it is lost.

Nominal intervals: ITU-R M.1371-5 Annex 1, tables 1 and 2 (from memory; the AIVDM document
confirms 2 to 10 s under way, 3 min at anchor). A target is lost after k of them: k = 6 keeps a
false 'lost' under 1 in 1000 at 30 % loss of messages (alerts.md 5.4, our derivation). Where a
station is in truth heard less often (far away, a thinned recording), its own usual interval
counts instead.
"""

from __future__ import annotations

from ..words.units import MS_PER_KN
from .targets import Target

MISSED = 6
SLOWEST_S = 180.0
NEW_S = 60.0  # until a station's own rhythm is known it is given this much at least
KNOWN_AFTER = 4  # reports
AT_REST = frozenset({1, 5, 6})  # at anchor, moored, aground
BEACON_PREFIX = {970: "sart", 972: "mob", 974: "epirb"}  # of their MMSI, ITU-R M.585-9
BEACONS = frozenset(BEACON_PREFIX.values())
ACTIVE_STATUS = 14  # navigational status of a beacon that calls for help (ITU-R M.1371-5)
FIXED_S = {"base": 10.0, "aid": 180.0, "sar": 10.0, "long-range": 180.0}
# Scans of a radar at 24, 36 and 48 turns a minute (common practice, no source).
SCANS_S = (60.0 / 24, 60.0 / 36, 60.0 / 48)
RADAR_LEAST_S = 10.0


def nominal_interval_s(target: Target, turning: bool = False) -> float:
    """The interval that the standard gives a station at its last known speed and status."""
    station = target.station
    if station in FIXED_S:
        return FIXED_S[station]
    if station in BEACONS:
        return 60.0  # one burst of eight messages a minute
    speed_kn = None if target.speed_ms is None else target.speed_ms / MS_PER_KN
    if station == "A":
        return _class_a_s(speed_kn, target.nav_status in AT_REST, turning)
    if speed_kn is None or speed_kn <= 2.0:
        return SLOWEST_S
    if target.carrier_sense is False:
        return 30.0 if speed_kn <= 14.0 else 15.0 if speed_kn <= 23.0 else 5.0
    return 30.0


def _class_a_s(speed_kn: float | None, at_rest: bool, turning: bool) -> float:
    if at_rest:
        return SLOWEST_S if speed_kn is None or speed_kn <= 3.0 else 10.0
    if speed_kn is None or speed_kn <= 14.0:
        return 10.0 / 3.0 if turning else 10.0
    if speed_kn <= 23.0:
        return 2.0 if turning else 6.0
    return 2.0


def expected_scan_s(interval_s: float | None) -> float:
    """A radar's scan from how often its echoes come: the nearest usual one, slowest unknown."""
    if interval_s is None:
        return SCANS_S[0]
    return min(SCANS_S, key=lambda scan: abs(scan - interval_s))


def lost_after_s(target: Target, missed: int = MISSED) -> float:
    """Silence after which the target counts as lost."""
    usual = target.interval_s
    if target.kind == "radar":
        return max(RADAR_LEAST_S, missed * (usual or SCANS_S[0]))
    interval = nominal_interval_s(target)
    if target.updates < KNOWN_AFTER or usual is None:
        interval = max(interval, NEW_S)
    else:
        interval = max(interval, min(usual, SLOWEST_S))
    return missed * interval


def is_lost(target: Target, now_s: float, missed: int = MISSED) -> bool:
    """Silent for `missed` intervals; never with 0 (the function is then off)."""
    if missed == 0 or not target.updates:
        return False
    if target.kind == "radar" and target.lost:
        return True  # the radar says so itself
    # `reckon_s` was reckoned for MISSED of them when the last report came.
    return (now_s - target.sighted_s) * MISSED > target.reckon_s * missed
