"""The small picture for a phone at night: dark, few words, large letters, under 60 kB.

matplotlib is imported here and nowhere else: only the process of the `report` verb loads it,
never the daemon's.
"""

from __future__ import annotations

import io
import math
from typing import Any

import matplotlib as mpl
from PIL import Image

mpl.use("Agg")

from matplotlib.figure import Figure  # the backend is chosen first
from matplotlib.patches import Circle

from ...words.geo import LatLon, east_north
from ...words.timing import clock_text
from .night import Night
from .plan import distance
from .svg import nearest_round
from .track import Swing
from .words import headline

MOST_BYTES = 60_000
PIXELS = (720, 960)
DPI = 120
COLOURS = 128
GROUND, INK, SOFT = "#0b0f12", "#d8d0bf", "#8b959b"
ALARM, WARNING, GOOD, TRACK, ANCHOR = "#ff7468", "#eda23c", "#6fc3ae", "#86b4e6", "#bb9ad6"


def picture(night: Night) -> bytes:
    """PNG, with fewer pixels if need be, until it is small enough for any push service."""
    for dpi in (DPI, 100, 80):
        data = _png(night, dpi)
        if len(data) <= MOST_BYTES:
            break
    return data


def _png(night: Night, dpi: int) -> bytes:
    figure = Figure(figsize=(PIXELS[0] / DPI, PIXELS[1] / DPI), dpi=dpi, facecolor=GROUND)
    colour = ALARM if night.drags else WARNING if night.figures["wake_ups"] else GOOD
    figure.text(0.04, 0.962, headline(night), color=colour, size=19, weight="bold", va="center")
    span = f"{clock_text(night.first_s)} to {clock_text(night.last_s)} UTC"
    figure.text(0.04, 0.922, f"{night.orders.vessel.name}, {span}", color=INK, size=13, va="center")
    _track(figure, night)
    _timeline(figure, night)
    said = _last_words(night)
    figure.text(0.04, 0.038, said, color=INK, size=12.5, va="center")
    data = io.BytesIO()
    figure.savefig(data, format="png", dpi=dpi, facecolor=GROUND)
    small = io.BytesIO()
    with Image.open(data) as whole:  # a night has few colours: one byte a pixel is plenty
        whole.convert("RGB").quantize(COLOURS).save(small, "PNG", optimize=True)
    return small.getvalue()


def _axes(figure: Figure, box: tuple[float, float, float, float]) -> Any:
    axes = figure.add_axes(box, facecolor=GROUND)
    axes.set_xticks([])
    axes.set_yticks([])
    for side in axes.spines.values():
        side.set_visible(False)
    return axes


def _track(figure: Figure, night: Night) -> None:
    axes = _axes(figure, (0.02, 0.24, 0.96, 0.655))
    centre = night.centre
    if centre is None or not night.places:
        axes.text(0.5, 0.5, "no position", color=ALARM, size=20, ha="center", va="center")
        return
    points = [(t, *east_north(centre, LatLon(lat, lon))) for t, lat, lon in night.places]
    swing = Swing(night)
    east, north = [p[1] for p in points], [p[2] for p in points]
    if swing.about is not None:
        x, y = east_north(centre, swing.about)
        for radius, colour, style in ((swing.reach_m, GOOD, "-"), (swing.alarm_m, ALARM, "--")):
            if radius is not None:
                axes.add_patch(
                    Circle((x, y), radius, fill=False, color=colour, linestyle=style, linewidth=1.8)
                )
                words = "swing" if colour == GOOD else "alarm"
                axes.text(
                    x,
                    y - radius if colour == GOOD else y + radius,
                    words,
                    color=colour,
                    size=11,
                    ha="center",
                    va="top",
                )
                east += [x - radius, x + radius]
                north += [y - radius, y + radius]
    mid_x, mid_y = (max(east) + min(east)) / 2, (max(north) + min(north)) / 2
    aspect = 0.655 * PIXELS[1] / (0.96 * PIXELS[0])
    wide, high = max(east) - min(east), max(north) - min(north)
    half = max(15.0, 0.54 * wide, 0.54 * high / aspect)
    axes.set_xlim(mid_x - half, mid_x + half)
    axes.set_ylim(mid_y - half * aspect, mid_y + half * aspect)
    axes.set_aspect("equal")
    axes.plot(
        [p[1] for p in points], [p[2] for p in points], color=TRACK, linewidth=1.1, alpha=0.75
    )
    for begins, ends in night.drags:
        gone = [p for p in points if begins <= p[0] <= ends]
        axes.plot([p[1] for p in gone], [p[2] for p in gone], color=ALARM, linewidth=3)
    axes.plot(0, 0, "+", color=INK, markersize=15, markeredgewidth=2)
    if swing.anchor is not None:
        x, y = east_north(centre, swing.anchor)
        axes.plot(x, y, "o", color=ANCHOR, markersize=6)
        if swing.doubt_m is not None:
            ring = Circle((x, y), 2 * swing.doubt_m, fill=False, color=ANCHOR, linestyle=":")
            axes.add_patch(ring)
    axes.plot(points[-1][1], points[-1][2], "o", color=INK, markersize=11)
    axes.annotate(
        f"boat {clock_text(points[-1][0])}", (points[-1][1], points[-1][2]), color=INK, size=13,
        xytext=(0, -20), textcoords="offset points", weight="bold",
        ha="right" if points[-1][1] > mid_x else "left",
    )  # fmt: skip
    long_m = nearest_round(0.5 * half)
    x, y = mid_x - 0.95 * half, mid_y - 0.96 * half * aspect
    axes.plot([x, x + long_m], [y, y], color=INK, linewidth=3)
    axes.text(x, y + 0.03 * half, distance(long_m), color=INK, size=13, va="bottom")
    axes.text(mid_x + 0.93 * half, mid_y + 0.9 * half * aspect, "N\u2191", color=INK, size=14,
              ha="center")  # fmt: skip


def _timeline(figure: Figure, night: Night) -> None:
    """When something was announced, one mark each, over the time of the night."""
    axes = _axes(figure, (0.05, 0.085, 0.9, 0.13))
    axes.set_xlim(night.first_s, night.last_s)
    axes.set_ylim(0, 1)
    axes.plot([night.first_s, night.last_s], [0.36, 0.36], color=SOFT, linewidth=1.5)
    for a, b in night.no_position:
        axes.plot([a, b], [0.36, 0.36], color=GROUND, linewidth=5)
        axes.plot([a, b], [0.36, 0.36], color=SOFT, linewidth=3, linestyle=":")
    wakes = [one for one in night.announced if one.wakes]
    last = -math.inf
    for one in wakes:
        colour = WARNING if one.highest == "warning" else ALARM
        axes.plot([one.raised_s, one.raised_s], [0.36, 0.66], color=colour, linewidth=4)
        share = (one.raised_s - night.first_s) / max(1.0, night.last_s - night.first_s)
        if share - last > 0.16 or math.isinf(last):
            side = "left" if share < 0.1 else "right" if share > 0.9 else "center"
            axes.text(one.raised_s, 0.74, clock_text(one.raised_s), color=colour, size=12, ha=side)
            last = share
    for at_s, side in ((night.first_s, "left"), (night.last_s, "right")):
        axes.text(at_s, 0.02, clock_text(at_s), color=SOFT, size=11.5, ha=side)


def _last_words(night: Night) -> str:
    open_ = sum(1 for one in night.announced if not one.answered)
    ships = sorted(night.log.ships.values(), key=lambda s: s.nearest_m)
    said = [f"nobody acknowledged {open_}" if open_ else ""]
    if ships:
        said.append(f"nearest {ships[0].name[:16]} {distance(ships[0].nearest_m)}")
    return "; ".join(part for part in said if part)
