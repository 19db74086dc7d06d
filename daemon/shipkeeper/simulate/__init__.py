"""A physical simulator of a boat lying to one anchor: the outside world for proofs and the demo.

Own work, from textbook physics; it shares no formula, number or code with the rules it proves.
It imports nothing of ours. `random_plan` draws a night, `simulate` plays it; a scripted night is
a plan written out:

    NightPlan(
        seed=7,
        wind=(WindKnot(0, 5, 220), WindKnot(9000, 6, 230), WindKnot(9600, 14, 290)),
        stream=reversing_stream(0.3, axis=0.6, phase=2.0, duration_s=28_800),
        tide=tide(1.2, phase=1.6, duration_s=28_800),
        drags=(Drag(start_s=10_800, speed_ms=0.3, end_s=12_000),),
        gnss=Gnss(faults=(GnssFault(kind="dropout", start_s=20_000, duration_s=600),)),
    )
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
