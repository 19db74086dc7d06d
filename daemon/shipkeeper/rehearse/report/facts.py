"""What the page says, as plain data."""

from __future__ import annotations

from typing import Any

import msgspec

from ...words.timing import utc_text
from .night import Night, Span
from .occurrence_words import ended
from .track import Swing
from .words import headline, paragraph


def facts(night: Night) -> dict[str, Any]:
    """JSON-ready."""
    swing = Swing(night)
    return {
        "vessel": night.orders.vessel.name,
        "from": utc_text(night.first_s),
        "to": utc_text(night.last_s),
        "headline": headline(night),
        "paragraph": paragraph(night),
        "alerts": [
            msgspec.to_builtins(one) | {"at": utc_text(one.raised_s), "ended": ended(night, one)}
            for one in night.found
        ],
        "not_acknowledged": [one.alert for one in night.announced if not one.answered],
        "anchor": {
            "mark": _place(night.mark),
            "estimated": _place(swing.anchor),
            "sigma_m": swing.doubt_m,
            "swing_circle_m": swing.reach_m,
            "alarm_at_m": swing.alarm_m,
        },
        "ships": [
            {
                "name": ship.name,
                "key": ship.key,
                "nearest_m": round(ship.nearest_m, 1),
                "at": utc_text(ship.nearest_s),
            }
            for ship in sorted(night.log.ships.values(), key=lambda s: s.nearest_m)
        ],
        "no_position": _spans(night.no_position),
        "inputs": [
            {
                "name": feed.name,
                "good": feed.good,
                "bad": feed.bad,
                "unused": feed.unused,
                "silent": _spans(feed.silent),
            }
            for feed in night.log.feeds.values()
        ],
        "load": night.figures,
    }


def _place(place: Any) -> list[float] | None:
    return None if place is None else [round(place.lat, 6), round(place.lon, 6)]


def _spans(spans: list[Span]) -> list[list[str]]:
    return [[utc_text(a), utc_text(b)] for a, b in spans]
