"""The watch that is set: which one, since when, who is aboard, and the anchor's mark."""

from __future__ import annotations

import msgspec

from ..words.geo import LatLon


class AnchorMark(msgspec.Struct, frozen=True, kw_only=True):
    """Where the anchor (or mooring, or berth) is held to be, and what is laid out.

    how: 'here' (the bow stood over it), 'at' (a place given), 'estimate' (from the rule).
    """

    lat: float
    lon: float
    set_at_s: float
    how: str = "at"
    rode_m: float | None = None
    depth_m: float | None = None
    rise_m: float = 0.0
    heading_deg: float | None = None
    revision: int = 0  # grows with every move or veer, so that rules see the change

    @property
    def place(self) -> LatLon:
        return LatLon(self.lat, self.lon)


class WatchSet(msgspec.Struct, frozen=True, kw_only=True):
    """The watch as state, kept over restarts."""

    watch: str = "off"  # anchored | moored | berthed | underway | off
    crew: str = "aboard"  # aboard | ashore
    since_s: float = 0.0
    mark: AnchorMark | None = None
    has_watch: str = ""  # who was handed the watch, until when
    has_watch_until_s: float | None = None

    @property
    def at_rest(self) -> bool:
        """Own velocity counts as zero: at anchor, on a mooring, in a berth."""
        return self.watch in ("anchored", "moored", "berthed")
