"""The standing orders of each kind: picture in, verdicts out. RULES lists the kinds.

A kind is one file here and one line below; the order is that of the reference.
"""

from __future__ import annotations

from ..words.orders import RuleOrders
from .contact import ContactOrders
from .depth import DepthOrders
from .distress import DistressOrders
from .drag import DragOrders
from .drill import DrillOrders
from .feed import FeedOrders
from .presence import PresenceOrders
from .proximity import ProximityOrders
from .sensor import SensorOrders
from .wind import WindOrders
from .zone import ZoneOrders

RULES: tuple[type[RuleOrders], ...] = (
    ZoneOrders,
    ProximityOrders,
    DragOrders,
    DepthOrders,
    WindOrders,
    SensorOrders,
    ContactOrders,
    DistressOrders,
    PresenceOrders,
    DrillOrders,
    FeedOrders,
)
