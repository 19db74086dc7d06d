"""Three nights for the report: a quiet swing, a dragging anchor, a busy guard zone.

Cut from the demo's night or made with its ships, so that what is true is known.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from pathlib import Path

from demo import night
from demo.sentences import KNOT_MS, tagged

Scene = Callable[[list[night.Heard]], Iterable[night.Heard]]


def between(heard: Iterable[night.Heard], from_: str, to: str) -> list[night.Heard]:
    a, b = night.START + night.at(from_), night.START + night.at(to)
    return [one for one in heard if a <= one.utc_s < b]


def quiet(heard: list[night.Heard]) -> list[night.Heard]:
    """The stream turns, she swings round; one neighbour lies there; a ship far off."""
    return between(heard, "23:05", "00:05")


def drag(heard: list[night.Heard]) -> list[night.Heard]:
    """The anchor drags at 03:04; the wind is up."""
    return between(heard, "02:50", "03:20")


def busy(heard: list[night.Heard]) -> list[night.Heard]:
    """A summer evening: fourteen boats come into the bay within the hour, some to anchor inside
    the guard zone, some to go through it, one with a name that is markup."""
    boats = []
    for n in range(14):
        bearing = math.radians(25.0 * n + 10.0)
        away_m = 900.0 + 60.0 * n
        inwards = (math.degrees(bearing) + 180.0 + 6.0 * (n % 3 - 1)) % 360.0
        speed = (4.0 + n % 4) * KNOT_MS
        begins = night.at("22:50") + 200.0 * n
        stays = n % 3 == 0
        stop_s = begins + (away_m - 140.0 - 12.0 * n) / speed
        legs = (night.Leg(stop_s, inwards, speed), night.Leg(1e9, inwards, 0.0 if stays else speed))
        name = "<B>& SONS" if n == 5 else f"GULL {n + 1}"
        boats.append(
            night.Ship(
                299_000_700 + n, name, 36, (6, 5, 2, 2), away_m * math.sin(bearing),
                away_m * math.cos(bearing), legs, class_b=True, from_s=begins,
            )
        )  # fmt: skip
    extra = [
        night.Heard(round(night.START + t_s + 0.5, 3), "ais", line)
        for boat in boats
        for t_s, lines in boat.reports()
        for line in lines
    ]
    both = [*between(heard, "22:45", "23:45"), *between(extra, "22:45", "23:45")]
    return sorted(both, key=lambda one: one.utc_s)


SCENES: dict[str, Scene] = {"quiet": quiet, "drag": drag, "busy": busy}


def write(path: Path, heard: Iterable[night.Heard]) -> Path:
    path.write_text("".join(tagged(h.sentence, h.wire, h.utc_s) + "\n" for h in heard))
    return path


ANCHORED = (
    "--anchor", f"{night.ANCHOR.lat},{night.ANCHOR.lon}", "--rode", "40 m", "--depth", "7.2 m"
)  # fmt: skip
