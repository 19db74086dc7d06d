"""Lines that may have to be judged at once, told by a glance: a call for help, or a lost fix.

All others are judged with the next second (engine.py), so the main thread need not be woken for
each of them. The glance errs to the safe side: what it does not know for sure is pressing.
"""

from __future__ import annotations

_FIXES = frozenset({"RMC", "GGA", "GLL", "GNS"})  # they alone can say that there is no fix
_STARTS = frozenset("$!")
# Of a payload's second character the last four bits are the first four of the MMSI. Those of
# beacons, 970 to 974 millions, begin with 14 (ITU-R M.585-9; so do aids and small craft).
_BEACON = frozenset(">Nfv")
_TEXT = ">"  # armour of message type 14, a safety text


def is_pressing(line: str) -> bool:
    """line: as the framer gives it."""
    sentence = line.rpartition("\\")[2]
    start = sentence[:1]
    if start == "$":
        return sentence[3:6] in _FIXES
    if start != "!":
        return False  # no sentence at all
    fields = sentence.split(",", 6)
    if len(fields) < 7 or fields[1] != "1":
        return True  # a part of a message: what it is, is known when all are there
    payload = fields[5]
    return payload[:1] == _TEXT or payload[1:2] in _BEACON
