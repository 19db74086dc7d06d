"""A physical simulator of a boat lying to one anchor: the outside world for proofs and the demo.

Own work, from textbook physics; it shares no formula, number or code with the rules it proves.
It imports nothing of ours. `random_plan` draws a night, `simulate` plays it.
"""

from shipkeeper.simulate.night import simulate
from shipkeeper.simulate.plan import (
    KNOT_MS,
    Air,
    Boat,
    Drag,
    Gnss,
    GnssFault,
    Instruments,
    NightPlan,
    Rode,
    Sample,
    StreamKnot,
    TideKnot,
    WindKnot,
)
from shipkeeper.simulate.population import DRAGS, MARKS, random_plan
from shipkeeper.simulate.receivers import QUALITIES
from shipkeeper.simulate.tides import reversing_stream, tide
from shipkeeper.simulate.weather import WEATHERS

__all__ = [
    "DRAGS", "KNOT_MS", "MARKS", "QUALITIES", "WEATHERS", "Air", "Boat", "Drag", "Gnss",
    "GnssFault", "Instruments", "NightPlan", "Rode", "Sample", "StreamKnot", "TideKnot", "WindKnot",
    "random_plan", "reversing_stream", "simulate", "tide",
]  # fmt: skip
