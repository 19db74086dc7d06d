"""A picture to judge, without wires: observations are put in by hand."""

from __future__ import annotations

from shipkeeper.picture.picture import Picture
from shipkeeper.picture.watch import AnchorMark, WatchSet
from shipkeeper.words.observations import Observation
from shipkeeper.words.orders import Antenna, Vessel

VESSEL = Vessel(
    name="Curlew",
    length_m=11.4,
    beam_m=3.6,
    antenna=Antenna(from_bow_m=8.9, from_port_m=1.8),
    bow_height_m=1.3,
    transducer_depth_m=0.6,
    draught_m=1.8,
)


def picture(watch: str = "anchored", vessel: Vessel = VESSEL) -> Picture:
    """An empty picture with a watch set at 0 and the mark at 50 N 5 W."""
    made = Picture(vessel, {"gnss": ("position",), "second": ()}, 0.0)
    made.watch = WatchSet(
        watch=watch, mark=AnchorMark(lat=50.0, lon=-5.0, set_at_s=0.0, rode_m=35.0, depth_m=6.0)
    )
    return made


def put(scene: Picture, at_s: float, *facts: Observation, source: str = "gnss") -> None:
    for fact in facts:
        scene.take(fact, source, at_s)
