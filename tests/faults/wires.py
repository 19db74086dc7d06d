"""What a boat's wires say, second by second, and the ways in which they go wrong.

A wire says lines for a moment of the boat's state; a spoiler changes them. Everything is an
invention of ours: the boat, the ships (an unallocated country code), the place.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from datetime import UTC, datetime

import msgspec
from demo import sentences
from demo.sentences import finish

from shipkeeper.words.geo import LatLon, offset

HERE = LatLon(57.1, -5.2)
OWN_MMSI, NEIGHBOUR, PASSER = 299000100, 299000201, 299000202


class Boat(msgspec.Struct):
    """The state of boat and world that the wires tell of."""

    utc_s: float
    north_m: float = 0.0  # own ship from HERE
    second_east_m: float = 0.0  # the second receiver's error
    echo_east_m: float = 0.0  # our transponder's error
    depth_m: float = 6.0
    wind_kn: float = 8.0
    volts: float = 12.6
    hdop: float = 0.9
    sigma_m: float = 1.5
    told_back_s: float = 0.0  # the receiver's clock behind the truth
    ships: int = 1  # 0: an empty bay

    @property
    def place(self) -> LatLon:
        return offset(HERE, 0.0, self.north_m)

    @property
    def told_s(self) -> float:
        return self.utc_s - self.told_back_s


def gnss(boat: Boat) -> list[str]:
    at = boat.place
    return [
        sentences.rmc(boat.told_s, at.lat, at.lon, 0.1, 90.0),
        sentences.gga(boat.told_s, at.lat, at.lon, boat.hdop),
        finish(
            f"GPGST,{_clock(boat.told_s)},1.0,,,,{boat.sigma_m:.1f},{boat.sigma_m:.1f},3.0"
        ),
    ]  # fmt: skip


def second(boat: Boat) -> list[str]:
    at = offset(boat.place, 90.0, boat.second_east_m)
    return [sentences.rmc(boat.utc_s, at.lat, at.lon, 0.1, 90.0)]


def deck(boat: Boat) -> list[str]:
    return [
        sentences.hdt(44.0 + boat.utc_s % 3),
        sentences.dpt(boat.depth_m - 0.6, 0.6),
        sentences.mwv(10.0 + boat.utc_s % 3, boat.wind_kn * sentences.KNOT_MS, "T"),
        finish(f"IIXDR,U,{boat.volts:.2f},V,BATT"),
    ]


def ais(boat: Boat) -> list[str]:
    """Our own transponder each second, a neighbour at anchor, and one who passes far off."""
    at = offset(boat.place, 90.0, boat.echo_east_m)
    out = sentences.ais_position(OWN_MMSI, at.lat, at.lon, 0.0, 0.0, own=True)
    if boat.ships and round(boat.utc_s) % 10 == 0:
        near, far = offset(HERE, 60.0, 300.0), offset(HERE, 200.0, 5000.0)
        out += sentences.ais_position(NEIGHBOUR, near.lat, near.lon, 0.0, 0.0)
        out += sentences.ais_position(PASSER, far.lat, far.lon, 0.0, 0.0)
    return out


def metronome(boat: Boat) -> list[str]:
    """A rudder angle, which nobody uses: by its stamps the feed's clock goes on."""
    return [finish("IIRSA,0.0,A,,")]


WIRES: dict[str, Callable[[Boat], list[str]]] = {
    "gnss": gnss,
    "second": second,
    "deck": deck,
    "ais": ais,
    "metronome": metronome,
}

# -- spoilers ----------------------------------------------------------------------------------

Spoiler = Callable[[Boat, "Spoilt", list[str]], list[str]]


class Spoilt:
    """What a spoiler remembers from the moment at which the wire was spoilt."""

    def __init__(self, boat: Boat, lines: list[str]) -> None:
        self.boat = msgspec.structs.replace(boat)
        self.lines = lines
        self.random = random.Random(7)


def _clock(utc_s: float) -> str:
    return datetime.fromtimestamp(utc_s, UTC).strftime("%H%M%S.00")


def _silent(boat: Boat, then: Spoilt, lines: list[str]) -> list[str]:
    return []


def _says(body: Callable[[Boat], str]) -> Spoiler:
    """Instead of its lines, this sentence."""
    return lambda boat, then, lines: [finish(body(boat))]


def _without(kind: str) -> Spoiler:
    """All but this sentence."""
    return lambda boat, then, lines: [line for line in lines if line[3:6] != kind]


def _instead(kind: str, body: str) -> Spoiler:
    """This sentence with another content."""
    return lambda boat, then, lines: [finish(body) if line[3:6] == kind else line for line in lines]


def _repeats(kind: str) -> Spoiler:
    """This sentence as it was told last, for ever."""
    return lambda boat, then, lines: [
        next(old for old in then.lines if old[3:6] == kind) if line[3:6] == kind else line
        for line in lines
    ]


def _frozen(boat: Boat, then: Spoilt, lines: list[str]) -> list[str]:
    return then.lines


def _backwards(boat: Boat, then: Spoilt, lines: list[str]) -> list[str]:
    passed_s = boat.utc_s - then.boat.utc_s
    return gnss(msgspec.structs.replace(boat, utc_s=then.boat.utc_s - passed_s))


def _shifted(seconds: float) -> Spoiler:
    """The receiver's clock steps once, and goes on from there."""
    return lambda boat, then, lines: gnss(msgspec.structs.replace(boat, utc_s=boat.utc_s + seconds))


def _of_another_era(boat: Boat, then: Spoilt, lines: list[str]) -> list[str]:
    """1024 weeks back: the same time of day, another date."""
    return gnss(msgspec.structs.replace(boat, utc_s=boat.utc_s - 1024 * 7 * 86_400))


def _damaged(share: float) -> Spoiler:
    """A share of the sentences loses a bit on the way."""

    def spoil(boat: Boat, then: Spoilt, lines: list[str]) -> list[str]:
        out = []
        for line in lines:
            if then.random.random() < share:
                place = then.random.randrange(7, len(line) - 4)
                bit = chr(ord(line[place]) ^ 1)
                line = line[:place] + bit + line[place + 1 :]
            out.append(line)
        return out

    return spoil


def _without_checksum(boat: Boat, then: Spoilt, lines: list[str]) -> list[str]:
    return [line[:-3] for line in lines]


def _junk(boat: Boat, then: Spoilt, lines: list[str]) -> list[str]:
    """As from a port at the wrong speed."""
    return [
        "".join(chr(then.random.randrange(35, 127)) for _ in range(40)).replace("*", "+")
        for _ in range(6)
    ]


def _cut_short(boat: Boat, then: Spoilt, lines: list[str]) -> list[str]:
    return [line[: len(line) // 2] for line in lines]


def _flood(boat: Boat, then: Spoilt, lines: list[str]) -> list[str]:
    return lines + _junk(boat, then, lines) * 60


def _moved(north_m: float, seconds: float = 1e9) -> Spoiler:
    """The fix leaps, for good or for a time."""

    def spoil(boat: Boat, then: Spoilt, lines: list[str]) -> list[str]:
        if boat.utc_s - then.boat.utc_s >= seconds:
            return lines
        return gnss(msgspec.structs.replace(boat, north_m=boat.north_m + north_m))

    return spoil


def _truncated_payloads(boat: Boat, then: Spoilt, lines: list[str]) -> list[str]:
    """Ships' payloads of the wrong length, with checksums that fit; our own is whole."""
    return [finish(line[1:28] + ",0", "!") if line[3:6] == "VDM" else line for line in lines]


OLD = "5706.00000,N,00512.00000,W"
SPOILERS: dict[str, Spoiler] = {
    "silent": _silent,
    "no fix": _says(lambda b: sentences.rmc(b.utc_s, None, None, None, None)[1:-3]),
    "no fix, old place": _says(lambda b: f"GPGGA,{_clock(b.utc_s)},{OLD},0,00,,,M,,M,,"),
    "no place": _says(lambda b: f"GPRMC,{_clock(b.utc_s)},A,,,,,0.1,90.0,120626,,,A"),
    "reckoned": _says(lambda b: f"GPRMC,{_clock(b.utc_s)},A,{OLD},0.1,90.0,120626,,,E"),
    "latitude 95": _says(
        lambda b: f"GPRMC,{_clock(b.utc_s)},A,9506.00000,N,00512.00000,W,0.1,90.0,120626,,,A"
    ),
    "nan": _says(lambda b: f"GPRMC,{_clock(b.utc_s)},A,nan,N,nan,W,0.1,90.0,120626,,,A"),
    "null island": _says(
        lambda b: f"GPRMC,{_clock(b.utc_s)},A,0000.00000,N,00000.00000,E,0.0,,120626,,,A"
    ),
    "frozen": _frozen,
    "backwards": _backwards,
    "an hour back": _shifted(-3600.0),
    "an hour ahead": _shifted(3600.0),
    "another era": _of_another_era,
    "damaged, 3 in 4": _damaged(0.75),
    "damaged, 1 in 10": _damaged(0.1),
    "no checksums": _without_checksum,
    "junk": _junk,
    "cut short": _cut_short,
    "flood": _flood,
    "500 m off": _moved(500.0),
    "500 m off, once": _moved(500.0, 1.0),
    "no depth": _without("DPT"),
    "empty depth": _instead("DPT", "SDDPT,,0.6,100.0"),
    "depth nan": _instead("DPT", "SDDPT,nan,0.6,100.0"),
    "invalid wind": _instead("MWV", "WIMWV,010.0,T,08.0,N,V"),
    "the wind repeats": _repeats("MWV"),
    "the heading repeats": _repeats("HDT"),
    "no volts": _without("XDR"),
    "truncated payloads": _truncated_payloads,
}
