"""A program of its own: reads a scene (JSON) and gives a small picture (PNG) for a phone at night.

    python -m shipkeeper.outlets.drawn < scene.json > picture.png

Not part of the daemon's process: the drawing library (Pillow, of the extra `pictures`) costs
memory and time that the watch needs. Ends with 3 where it is not installed.
"""

from __future__ import annotations

import contextlib
import io
import math
import os
import sys
from pathlib import Path
from typing import Any

import msgspec

from ..words.geo import LatLon, east_north
from ..words.scene import Place, Round, Scene
from .plain import one_line

NOT_INSTALLED = 3
WIDE, HIGH, TOP, FOOT = 540, 660, 76, 44
MOST_BYTES = 60_000
LEAST_M = 25.0  # half of what is shown, at least
FAR_SHARE = 1.12  # room around what must be in it
AHEAD_S = 360.0  # a ship's vector: where she is in six minutes (IMO SN.1/Circ.243 has vectors)
GROUND, INK, SOFT = "#0b0f12", "#d8d0bf", "#8b959b"
COLOURS = {"reach": "#6fc3ae", "alarm": "#ff7468", "zone": "#eda23c"}
OTHER, MARK = "#86b4e6", "#bb9ad6"
SAID = {"reach": "reach", "alarm": "alarm", "zone": "zone"}
Xy = tuple[float, float]


class Letter(msgspec.Struct, frozen=True):
    """What is drawn: the scene, and the words above it."""

    title: str
    at: str
    scene: Scene


class _Sheet:
    """Metres about the boat, on paper with north up."""

    def __init__(self, draw: Any, fonts: dict[int, Any], scene: Scene) -> None:
        self._draw, self._fonts = draw, fonts
        self._own = LatLon(*scene.boat)
        points = [(0.0, 0.0)]
        points += [self.metres(p) for p in (scene.mark, *scene.outline) if p is not None]
        for ring in scene.rounds:
            x, y = self.metres(ring.centre)
            points += [
                (x - ring.radius_m, y - ring.radius_m),
                (x + ring.radius_m, y + ring.radius_m),
            ]
        if scene.other is not None:
            points.append(self.metres(scene.other.place))
        xs, ys = [x for x, _ in points], [y for _, y in points]
        self._mid = ((max(xs) + min(xs)) / 2, (max(ys) + min(ys)) / 2)
        room = HIGH - TOP - FOOT
        wide, high = max(xs) - min(xs), max(ys) - min(ys)
        half = FAR_SHARE / 2 * max(wide, high * WIDE / room)
        self.half_m = max(LEAST_M, half)
        self.scale = WIDE / 2 / self.half_m

    def metres(self, place: Place) -> Xy:
        return east_north(self._own, LatLon(*place))

    def at(self, xy: Xy) -> Xy:
        """Metres to pixels."""
        return (
            WIDE / 2 + (xy[0] - self._mid[0]) * self.scale,
            TOP + (HIGH - TOP - FOOT) / 2 - (xy[1] - self._mid[1]) * self.scale,
        )

    def line(self, points: list[Xy], colour: str, width: int = 3) -> None:
        self._draw.line([self.at(p) for p in points], fill=colour, width=width, joint="curve")

    def text(self, at: Xy, words: str, colour: str, size: int, anchor: str = "lm") -> None:
        """Kept on the paper, on a ground of its own so that lines do not cross it."""
        font = self._fonts[size]
        box = self._draw.textbbox((0, 0), words, font=font, anchor=anchor)
        x = min(max(at[0], 6 - box[0]), WIDE - 6 - box[2])
        y = min(max(at[1], TOP + 4 - box[1]), HIGH - FOOT - 4 - box[3])
        back = (x + box[0] - 3, y + box[1] - 2, x + box[2] + 3, y + box[3] + 2)
        self._draw.rectangle(back, fill=GROUND)
        self._draw.text((x, y), words, fill=colour, font=font, anchor=anchor)

    def round(self, ring: Round) -> None:
        x, y = self.metres(ring.centre)
        first, last = 0.0, 360.0
        if ring.left_deg is not None and ring.right_deg is not None:
            first, last = ring.left_deg, ring.left_deg + (ring.right_deg - ring.left_deg) % 360.0
        count = max(2, round((last - first) / 3.0))
        arc = [
            (x + ring.radius_m * math.sin(b), y + ring.radius_m * math.cos(b))
            for n in range(count + 1)
            for b in [math.radians(first + (last - first) * n / count)]
        ]
        if last - first < 360.0:
            arc = [(x, y), *arc, (x, y)]
        self.line(arc, COLOURS[ring.what])
        top = arc[len(arc) // 2 if last - first < 360.0 else 0]
        if ring.what == "reach":  # below, so that it does not meet the name of the outer one
            top = (x, y - ring.radius_m)
        self.text(self.at(top), SAID[ring.what], COLOURS[ring.what], 20, "mm")


def drawn(letter: Letter) -> bytes:
    """PNG, under 60 kB. ImportError without Pillow."""
    from PIL import Image, ImageDraw, ImageFont

    image = Image.new("RGB", (WIDE, HIGH), GROUND)
    draw = ImageDraw.Draw(image)
    fonts = {size: ImageFont.load_default(size) for size in (18, 20, 24, 34)}
    scene = letter.scene
    sheet = _Sheet(draw, fonts, scene)
    if scene.outline:
        corners = [sheet.metres(place) for place in scene.outline]
        sheet.line(corners + corners[:1] * (len(corners) > 2), COLOURS["zone"])
    for ring in scene.rounds:
        sheet.round(ring)
    if scene.mark is not None:
        mark = sheet.metres(scene.mark)
        x, y = sheet.at(mark)
        sheet.line([(0.0, 0.0), mark], SOFT, 2)
        draw.ellipse((x - 7, y - 7, x + 7, y + 7), fill=MARK)
        sheet.text((x, y + 20), "mark", MARK, 20, "mm")
    _boat(sheet, draw, scene)
    _other(sheet, draw, scene)
    _frame(sheet, draw, fonts, letter)
    data = io.BytesIO()
    image.quantize(64).save(data, "PNG", optimize=True)
    return data.getvalue()


def _boat(sheet: _Sheet, draw: Any, scene: Scene) -> None:
    """Her shape where it can be seen, else a dot; her heading, if it is known."""
    x, y = sheet.at((0.0, 0.0))
    size = max(26.0, scene.length_m * sheet.scale)
    if scene.heading_deg is None:
        draw.ellipse((x - 9, y - 9, x + 9, y + 9), fill=INK)
    else:
        _arrow(draw, (x, y), scene.heading_deg, min(size, 90.0), INK)
    sheet.text((x, y - size / 2 - 12), one_line(scene.vessel)[:20], INK, 20, "mm")


def _other(sheet: _Sheet, draw: Any, scene: Scene) -> None:
    other = scene.other
    if other is None:
        return
    at = sheet.metres(other.place)
    x, y = sheet.at(at)
    if other.course_deg is None:
        draw.ellipse((x - 8, y - 8, x + 8, y + 8), outline=OTHER, width=3)
    else:
        way_m = min((other.speed_ms or 0.0) * AHEAD_S, 1.6 * sheet.half_m)
        course = math.radians(other.course_deg)
        ahead = (at[0] + way_m * math.sin(course), at[1] + way_m * math.cos(course))
        sheet.line([at, ahead], OTHER, 2)
        _arrow(draw, (x, y), other.course_deg, 26.0, OTHER)
    range_m = math.hypot(*at)
    sheet.text((x, y + 26), f"{one_line(other.name)[:20]} {_far(range_m)}", OTHER, 20, "mm")


def _arrow(draw: Any, at: Xy, deg: float, long: float, colour: str) -> None:
    """A ship's shape, pointed at the bow."""
    turn = math.radians(deg)
    shape = ((0.0, 0.5), (0.2, 0.1), (0.17, -0.5), (-0.17, -0.5), (-0.2, 0.1))
    draw.polygon(
        [
            (
                at[0] + long * (a * math.cos(turn) + b * math.sin(turn)),
                at[1] + long * (a * math.sin(turn) - b * math.cos(turn)),
            )
            for a, b in shape
        ],
        fill=colour,
    )


def _frame(sheet: _Sheet, draw: Any, fonts: dict[int, Any], letter: Letter) -> None:
    """The words above, a scale, and where north is."""
    draw.rectangle((0, 0, WIDE, TOP), fill=GROUND)
    draw.text(
        (14, 26), one_line(letter.title)[:26], fill=COLOURS["alarm"], font=fonts[34], anchor="lm"
    )
    when = f"{letter.at[11:19]} UTC, as it was then"
    draw.text((14, 59), when, fill=SOFT, font=fonts[18], anchor="lm")
    draw.text((WIDE - 26, TOP + 44), "N", fill=INK, font=fonts[24], anchor="mm")
    draw.line((WIDE - 26, TOP + 30, WIDE - 26, TOP + 4), fill=INK, width=3)
    draw.polygon([(WIDE - 33, TOP + 14), (WIDE - 26, TOP), (WIDE - 19, TOP + 14)], fill=INK)
    unit_m = 1.0 if sheet.half_m < 1852.0 else 1852.0
    long_m = _round(0.5 * sheet.half_m / unit_m) * unit_m
    y, x = HIGH - 20, 16
    draw.line((x, y, x + long_m * sheet.scale, y), fill=INK, width=4)
    draw.text((x, y - 16), _far(long_m), fill=INK, font=fonts[20], anchor="lm")


def _round(most: float) -> float:
    """1, 2 or 5 times a power of ten, no more than that."""
    power = 10.0 ** math.floor(math.log10(most))
    return next(n * power for n in (5.0, 2.0, 1.0) if n * power <= most * 1.0001)


def _far(metres: float) -> str:
    return f"{metres:.0f} m" if metres < 1000.0 else f"{metres / 1852.0:.3g} NM"


def _step_back() -> None:
    """The watch goes first, for time and for memory. The unit forbids the one and not the other."""
    with contextlib.suppress(OSError):
        os.nice(10)
    with contextlib.suppress(OSError):
        Path("/proc/self/oom_score_adj").write_text("500")


def main() -> int:
    _step_back()
    letter = msgspec.json.decode(sys.stdin.buffer.read(), type=Letter)
    try:
        data = drawn(letter)
    except ImportError:
        return NOT_INSTALLED
    sys.stdout.buffer.write(data)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
