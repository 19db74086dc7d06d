"""From a sounding to the depth of water: what the sounder leaves out the boat's measures give."""

from __future__ import annotations

from ..words.observations import Depth
from ..words.orders import Vessel


def waterline_m(sounding: Depth, vessel: Vessel) -> float | None:
    """Surface to bottom (m); None when the boat is not known enough for that."""
    below, offset = sounding.below_transducer_m, sounding.offset_m
    if offset is not None and offset > 0:
        return below + offset
    if vessel.transducer_depth_m is not None:
        return below + vessel.transducer_depth_m
    if offset is not None and offset < 0 and vessel.draught_m is not None:
        return below + offset + vessel.draught_m  # the sounder counts from the keel
    return None
