"""Where a zone lies at this moment: its orders laid down about ship, anchor or a position."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..picture.outline import POINT
from ..words.geo import LatLon
from .sight import Sight, axis_deg
from .zone_orders import ZoneOrders
from .zone_shapes import Area, Line, Polygon, Ring, Sector

if TYPE_CHECKING:
    from ..picture.picture import Picture


class Layout:
    """Made once for a zone; what is fixed to the ground is worked out here."""

    def __init__(self, orders: ZoneOrders) -> None:
        self.orders = orders
        self.line = Line(orders.line) if orders.line else None
        self._polygon = Polygon(orders.polygon) if orders.polygon else None

    def lay(self, picture: Picture, sight: Sight) -> Area | str:
        """The shape as it lies now, or what is missing to lay it down."""
        fixed = self._polygon or self.line
        if fixed is not None:
            return fixed
        orders = self.orders
        own = POINT
        if orders.around == "ship":
            if sight.place is None:
                return "position"
            centre, own = sight.place, sight.hull
        elif orders.around == "anchor":
            if picture.watch.mark is None:
                return "anchor mark"
            centre = picture.watch.mark.place
        else:
            lat, lon = orders.around
            centre = LatLon(lat, lon)
        if orders.ring is not None:
            return Ring(centre, own, orders.ring.from_m, orders.ring.to_m)
        sector = orders.sector
        assert sector is not None  # problems() refuses a zone without a shape
        turn = 0.0
        if sector.bearings == "relative" and not sector.is_all_round:
            axis = axis_deg(picture, sight.now_s)
            if axis is None:
                return "heading"
            turn = axis
        left, right = sector.left + turn, sector.right + turn
        return Sector(centre, own, sector.from_m, sector.to_m, left, right)
