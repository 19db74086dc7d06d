"""A plan: metres east and north of a place, drawn to scale, north up, with a scale bar."""

from __future__ import annotations

import math

from ...words.geo import LatLon, east_north
from ...words.units import M_PER_NM
from .svg import Canvas, Xy, nearest_round


class Plan:
    """A square of water on a canvas."""

    def __init__(self, title: str, width: float, centre: LatLon, middle: Xy, half_m: float) -> None:
        """`middle`: of the drawing, in metres from `centre`; `half_m`: from there to the edge."""
        self.width, self.centre, self.middle, self.half_m = width, centre, middle, half_m
        self.canvas = Canvas(width, width, title)
        self.scale = width / 2 / half_m
        self.canvas.rect(0, 0, width, width, "water")

    def at(self, east_m: float, north_m: float) -> Xy:
        return (
            self.width / 2 + (east_m - self.middle[0]) * self.scale,
            self.width / 2 - (north_m - self.middle[1]) * self.scale,
        )

    def place(self, lat: float, lon: float) -> Xy:
        return self.at(*east_north(self.centre, LatLon(lat, lon)))

    def finish(self) -> str:
        """Scale bar and north arrow over all else."""
        canvas, width = self.canvas, self.width
        long_m = nearest_round(0.3 * width / self.scale)
        x, y, wide = 12.0, width - 14.0, long_m * self.scale
        canvas.path([(x, y - 5), (x, y), (x + wide, y), (x + wide, y - 5)], "scale")
        canvas.text(x + wide / 2, y - 6, distance(long_m), "label strong", "middle")
        canvas.path([(width - 18, 34), (width - 18, 10)], "scale")
        canvas.path([(width - 23, 18), (width - 18, 9), (width - 13, 18)], "scale")
        canvas.text(width - 18, 47, "N", "label strong", "middle")
        return canvas.svg()


class Labels:
    """Words that do not lie on each other: each is moved down until it is free, or left out."""

    def __init__(self, width: float) -> None:
        self.width = width
        self._taken: list[tuple[float, float, float, float]] = []

    def put(self, canvas: Canvas, x: float, y: float, words: str, cls: str = "label") -> bool:
        wide = _wide_px(words, strong="strong" in cls or "word" in cls)
        x = min(max(3.0, x), max(3.0, self.width - wide - 3.0))
        for shift in (0.0, 14.0, -14.0, 28.0, -28.0, 42.0):
            box = (x, y + shift - 11, x + wide, y + shift + 3)
            inside = 8 < box[3] < self.width - 4 and box[1] > 0
            if inside and not any(_overlap(box, other) for other in self._taken):
                self._taken.append(box)
                canvas.text(x, y + shift, words, f"{cls} halo")
                return True
        return False

    def block(self, x: float, y: float, wide: float, high: float) -> None:
        self._taken.append((x, y, x + wide, y + high))


def _wide_px(words: str, *, strong: bool) -> float:
    """About as wide as a person's browser draws it; ships' names are capitals."""
    wide = sum(8.6 if c.isupper() else 6.8 for c in words)
    return 1.12 * wide if strong else wide


def _overlap(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def distance(metres: float) -> str:
    return f"{metres:.0f} m" if metres < 1000 else f"{metres / M_PER_NM:.2g} NM"


def hull(x: float, y: float, heading_deg: float, long_px: float) -> list[Xy]:
    """A boat seen from above, her antenna about the middle."""
    shape = ((0.0, -0.55), (0.18, -0.2), (0.18, 0.45), (-0.18, 0.45), (-0.18, -0.2))
    angle = math.radians(heading_deg)
    cos, sin = math.cos(angle), math.sin(angle)
    return [
        (x + long_px * (dx * cos - dy * sin), y + long_px * (dx * sin + dy * cos))
        for dx, dy in shape
    ]
