"""Who came near: guard zones and the tracks of ships, about the boat."""

from __future__ import annotations

import math
from typing import Any

from ...words.geo import LatLon, east_north, offset
from ...words.timing import clock_text
from ..nightlog import NEAR_M, ShipTrack
from .night import Night
from .plan import Labels, Plan, distance
from .svg import both, esc, steps, thinned
from .timeline import CLASSES

NAMED = 8  # ships with their names on the drawing


def traffic(night: Night) -> str:
    """The drawing and a table of the nearest."""
    if night.centre is None:
        return "<p>No position was received in this night, so nothing can be drawn about her.</p>"
    ships = sorted(night.log.ships.values(), key=lambda s: s.nearest_m)
    zones = [rule for rule in night.orders.rules if rule.table == "zone"]
    if not ships and not zones:
        return "<p>No ship was heard within 3 NM, and there is no guard zone in the orders.</p>"
    raised = _raised(night)
    reach = _reach_m(night, ships, zones, raised)
    drawn = both(*(_draw(night, width, reach, ships, zones, raised) for width in (340.0, 560.0)))
    return drawn + _nearest(night, ships, raised)


def _raised(night: Night) -> dict[str, str]:
    """Subject's name -> the highest priority raised for it."""
    order = list(CLASSES)
    raised: dict[str, str] = {}
    for one in night.announced:
        before = raised.get(one.subject)
        if before is None or order.index(one.highest) < order.index(before):
            raised[one.subject] = one.highest
    return raised


def _reach_m(
    night: Night, ships: list[ShipTrack], zones: list[Any], raised: dict[str, str]
) -> float:
    """Half the side of the drawing: the zones, and where the raised ships came nearest."""
    wanted = [1.25 * size for zone in zones if (size := _size_m(night, zone)) is not None]
    wanted += [1.5 * s.nearest_m for s in ships if s.name in raised]
    if not wanted:
        wanted = [2.0 * ships[0].nearest_m]
    return min(NEAR_M, max(150.0, *wanted))


def _size_m(night: Night, zone: Any) -> float | None:
    shape = zone.ring or zone.sector
    if shape is not None and isinstance(zone.around, str):
        return float(shape.to_m)
    centre = night.centre
    assert centre is not None
    far = [math.hypot(*east_north(centre, LatLon(*c))) for c in zone.polygon or zone.line or ()]
    if shape is not None:
        far = [math.hypot(*east_north(centre, LatLon(*zone.around))) + shape.to_m]
    return max(far) if far and max(far) < NEAR_M else None


def _draw(
    night: Night, width: float, half_m: float, ships: list[ShipTrack], zones: list[Any],
    raised: dict[str, str],
) -> str:  # fmt: skip
    centre = night.centre
    assert centre is not None
    plan = Plan("ships and guard zones about the boat", width, centre, (0.0, 0.0), half_m)
    canvas, labels = plan.canvas, Labels(width)
    labels.block(0, width - 32, 0.4 * width, 32)
    labels.block(width - 34, 0, 34, 52)
    labels.block(width / 2 - 8, width / 2 - 8, 16, 16)
    for ring_m in steps(0.0, half_m, 3)[1:]:
        canvas.circle(width / 2, width / 2, ring_m * plan.scale, "grid ring")
        labels.put(
            canvas, width / 2 + 3, width / 2 + ring_m * plan.scale - 3, distance(ring_m), "tick"
        )
    for zone in zones:
        _zone(plan, night, zone)
    for ship in [s for s in reversed(ships) if s.nearest_m < 1.5 * half_m]:
        points = thinned([plan.place(lat, lon) for _, lat, lon in ship.points])
        cls = CLASSES.get(raised.get(ship.name, ""), "other")
        canvas.path(points, f"ship {cls}")
        canvas.circle(*points[-1], 3 if len(points) > 1 else 4, f"shipend {cls}")
    own = thinned([plan.place(lat, lon) for _, lat, lon in night.places])
    canvas.path(own, "track t3")
    canvas.circle(*own[-1] if own else (width / 2, width / 2), 4, "boat")
    named = [s for s in ships if s.name in raised][:NAMED]
    named += [s for s in ships if s not in named and s.nearest_m < half_m][: NAMED - len(named)]
    for ship in named:
        at = min(ship.points, key=lambda p: abs(p[0] - ship.nearest_s))
        x, y = plan.place(at[1], at[2])
        if 0 <= x <= width and 0 <= y <= width:
            cls = "label strong" if ship.name in raised else "label"
            labels.put(canvas, x + 7, y + 4, f"{ship.name[:18]} {distance(ship.nearest_m)}", cls)
    for zone in zones:
        size = _size_m(night, zone)
        if size is not None and size < half_m:
            labels.put(canvas, width / 2 - 36, width / 2 - size * plan.scale - 4, zone.name[:24])
    return plan.finish()


def _zone(plan: Plan, night: Night, zone: Any) -> None:
    canvas = plan.canvas
    if zone.polygon is not None:
        canvas.path([plan.place(*corner) for corner in zone.polygon], "zone", closed=True)
        return
    if zone.line is not None:
        canvas.path([plan.place(*corner) for corner in zone.line], "zone")
        return
    about = night.centre if isinstance(zone.around, str) else LatLon(*zone.around)
    assert about is not None
    x, y = plan.place(about.lat, about.lon)
    if zone.ring is not None:
        canvas.circle(x, y, zone.ring.to_m * plan.scale, "zone")
        if zone.ring.from_m:
            canvas.circle(x, y, zone.ring.from_m * plan.scale, "zone hole")
        return
    sector = zone.sector
    turned = 0.0
    if sector.bearings == "relative":
        known = [s.heading_deg for s in night.log.samples if s.heading_deg is not None]
        turned = known[-1] if known else 0.0
    span = (sector.right - sector.left) % 360.0 or 360.0
    bearings = [sector.left + turned + span * i / 36 for i in range(37)]
    outer = [offset(about, b, sector.to_m) for b in bearings]
    inner = (
        [offset(about, b, sector.from_m) for b in reversed(bearings)] if sector.from_m else [about]
    )
    canvas.path([plan.place(p.lat, p.lon) for p in [*outer, *inner]], "zone", closed=True)


def _nearest(night: Night, ships: list[ShipTrack], raised: dict[str, str]) -> str:
    """The nearest ships in words."""
    rows = "".join(
        f"<tr><td>{esc(s.name)}</td><td>{esc(distance(s.nearest_m))}</td>"
        f"<td>{clock_text(s.nearest_s)}</td><td>{esc(raised.get(s.name, 'not raised'))}</td></tr>"
        for s in ships[:10]
    )
    if not rows:
        return '<p class="note">No ship was heard within 3 NM.</p>'
    more = f" Of {len(ships)} within 3 NM the nearest ten." if len(ships) > 10 else ""
    return (
        "<table><thead><tr><th>ship</th><th>nearest</th><th>at</th><th>raised as</th></tr></thead>"
        f"<tbody>{rows}</tbody></table>"
        f'<p class="note">Ranges from antenna to antenna; alerts measure to the hull.{more} '
        "A boat without AIS or radar target is not here.</p>"
    )
