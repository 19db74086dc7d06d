"""Where she lay: the track, the mark, the estimated anchor and its doubt, the swing circle."""

from __future__ import annotations

import math

from ...words.geo import LatLon, east_north, format_position
from ...words.timing import clock_text
from ..nightlog import Anchored
from .night import Night
from .plan import Labels, Plan, distance, hull
from .svg import both, esc, thinned


class Swing:
    """Circles of the drag rule, read from the facts of its verdict; what is absent is absent."""

    def __init__(self, night: Night) -> None:
        self.about: LatLon | None = night.mark
        self.reach_m: float | None = None  # of the antenna
        self.alarm_m: float | None = None
        self.anchor: LatLon | None = None
        self.doubt_m: float | None = None
        held = night.held
        if held is None:
            return
        reach = _fact(held, "reach_m")
        lat, lon = _fact(held, "anchor_lat"), _fact(held, "anchor_lon")
        if lat is not None and lon is not None:
            self.anchor = self.about = LatLon(lat, lon)
            self.doubt_m = _fact(held, "anchor_sigma_m")
        if held.facts.get("mode") == "radius":
            self.alarm_m = reach if reach is not None else held.limit
        elif reach is not None:
            self.reach_m = reach + night.lever_m
            if held.limit is not None:
                self.alarm_m = self.reach_m + held.limit


def track(night: Night) -> str:
    """The drawing, for a phone and for a wide page, and what it says in words."""
    if not night.places or night.centre is None:
        return "<p>No position was received in this night, so there is no track to draw.</p>"
    swing = Swing(night)
    return both(_draw(night, swing, 340.0), _draw(night, swing, 560.0)) + _told(night, swing)


def _draw(night: Night, swing: Swing, width: float) -> str:
    centre = night.centre
    assert centre is not None
    points = [(t, *east_north(centre, LatLon(lat, lon))) for t, lat, lon in night.places]
    plan = _plan(points, swing, width, centre)
    canvas, labels = plan.canvas, Labels(width)
    labels.block(0, width - 32, 0.36 * width, 32)
    labels.block(width - 34, 0, 34, 52)
    if swing.about is not None:
        x, y = plan.place(swing.about.lat, swing.about.lon)
        for radius, cls in ((swing.alarm_m, "alarmring"), (swing.reach_m, "swing")):
            if radius is not None:
                canvas.circle(x, y, radius * plan.scale, cls)
    # Later is stronger: the night in four shades, what lay beyond in the colour of the alarm.
    for shade, piece in _shades(night, points):
        canvas.path(thinned([plan.at(e, n) for _, e, n in piece]), f"track t{shade}")
    for span in night.drags:
        piece = [p for p in points if span[0] <= p[0] <= span[1]]
        canvas.path(thinned([plan.at(e, n) for _, e, n in piece]), "track gone")
    _anchor(plan, labels, night, swing)
    _boat(plan, labels, night, points)
    for begins, _ in night.drags[:3]:
        at = next((p for p in points if p[0] >= begins), points[-1])
        x, y = plan.at(at[1], at[2])
        canvas.circle(x, y, 4, "raised")
        labels.put(canvas, x + 8, y + 4, f"{clock_text(begins)} alarm", "label alarmword")
    if swing.about is not None:
        x, y = plan.place(swing.about.lat, swing.about.lon)
        for radius, words in ((swing.reach_m, "swing circle"), (swing.alarm_m, "alarm from here")):
            if radius is not None:
                labels.put(canvas, x - 30, y + radius * plan.scale + 13, words)
    return plan.finish()


def _plan(
    points: list[tuple[float, float, float]], swing: Swing, width: float, centre: LatLon
) -> Plan:
    """Large enough for the track and every circle."""
    east, north = [p[1] for p in points], [p[2] for p in points]
    if swing.about is not None:
        x, y = east_north(centre, swing.about)
        radius = max(swing.alarm_m or 0.0, swing.reach_m or 0.0)
        east += [x - radius, x + radius]
        north += [y - radius, y + radius]
    half = max(15.0, 0.55 * max(max(east) - min(east), max(north) - min(north)))
    middle = ((max(east) + min(east)) / 2, (max(north) + min(north)) / 2)
    return Plan("track of the boat with her swing circle", width, centre, middle, half)


def _shades(
    night: Night, points: list[tuple[float, float, float]]
) -> list[tuple[int, list[tuple[float, float, float]]]]:
    runs: list[tuple[int, list[tuple[float, float, float]]]] = []
    span = max(1.0, night.last_s - night.first_s)
    last_s = float("-inf")
    for point in points:
        shade = min(3, int(4 * (point[0] - night.first_s) / span))
        if not runs or runs[-1][0] != shade or point[0] - last_s > 60:
            joint = [runs[-1][1][-1]] if runs and point[0] - last_s <= 60 else []
            runs.append((shade, joint))
        runs[-1][1].append(point)
        last_s = point[0]
    return runs


def _anchor(plan: Plan, labels: Labels, night: Night, swing: Swing) -> None:
    canvas = plan.canvas
    if night.mark is not None:
        x, y = plan.place(night.mark.lat, night.mark.lon)
        canvas.path([(x - 6, y), (x + 6, y)], "mark")
        canvas.path([(x, y - 6), (x, y + 6)], "mark")
        labels.put(canvas, x + 9, y - 6, "mark", "label strong")
    if swing.anchor is not None:
        x, y = plan.place(swing.anchor.lat, swing.anchor.lon)
        if swing.doubt_m is not None:
            canvas.circle(x, y, 2 * swing.doubt_m * plan.scale, "doubt")
        canvas.circle(x, y, 3, "anchor")
        words = "anchor, estimated"
        boat_x, _ = plan.place(*night.places[-1][1:])
        beside = x + 9 if boat_x < x else x - 9 - 7.9 * len(words)  # away from the track
        labels.put(canvas, beside, y + 14, words, "label anchorword")


def _boat(
    plan: Plan, labels: Labels, night: Night, points: list[tuple[float, float, float]]
) -> None:
    at_s, east, north = points[-1]
    x, y = plan.at(east, north)
    heading = next((s.heading_deg for s in reversed(night.log.samples) if s.lat is not None), None)
    long_px = max(16.0, night.orders.vessel.length_m * plan.scale)
    if heading is None:
        plan.canvas.circle(x, y, 5, "boat")
    else:
        plan.canvas.path(hull(x, y, heading, long_px), "boat", closed=True)
    labels.put(
        plan.canvas, x + long_px / 2 + 3, y + 4, f"here at {clock_text(at_s)}", "label strong"
    )
    _, east, north = points[0]
    x, y = plan.at(east, north)
    plan.canvas.circle(x, y, 2.5, "start")


def _told(night: Night, swing: Swing) -> str:
    """The numbers of the drawing, for who cannot read it."""
    said = []
    if night.mark is not None:
        said.append(f"Mark (cross) {format_position(night.mark.lat, night.mark.lon)}.")
    if swing.anchor is not None and night.mark is not None:
        away = math.hypot(*east_north(night.mark, swing.anchor))
        doubt = "" if swing.doubt_m is None else f", within {2 * swing.doubt_m:.0f} m (dashed)"
        said.append(f"By how she lay the anchor is {away:.0f} m from the mark{doubt}.")
    if swing.reach_m is not None:
        said.append(f"The swing circle of the antenna is {distance(swing.reach_m)}.")
    if swing.alarm_m is not None:
        said.append(f"The alarm comes at about {distance(swing.alarm_m)} (red dashes).")
    if swing.reach_m is None and swing.alarm_m is None:
        said.append("No drag rule judged her place, so there is no swing circle.")
    said.append(
        "Her track is fainter the older it is"
        + (", red while the alarm stood." if night.drags else ".")
    )
    return f'<p class="note">{esc(" ".join(said))}</p>'


def _fact(held: Anchored, name: str) -> float | None:
    value = held.facts.get(name)
    return float(value) if isinstance(value, int | float) and math.isfinite(value) else None
